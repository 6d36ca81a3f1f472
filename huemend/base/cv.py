"""OpenCV, imported where it is needed, with a clear line where it cannot be.

Of OpenCV's builds we ask for the headless one. Where another package has brought the one with windows, it links
against libGL, which a Linux without a desktop lacks; the plain ``ImportError`` names a shared object and helps
nobody.
"""

from __future__ import annotations

from typing import Any

from huemend.errors import MissingLibraryError


def import_cv2() -> Any:
    """Return the ``cv2`` module; raises MissingLibraryError where it, or a library that it needs, is missing."""
    try:
        import cv2
    except ModuleNotFoundError as error:
        if error.name != "cv2":
            raise
        raise MissingLibraryError(
            "OpenCV is not installed", todo="run: pip install opencv-python-headless"
        ) from error
    except ImportError as error:
        # The loader's text is "libGL.so.1: cannot open shared object file: No such file or directory".
        raise MissingLibraryError(
            f"OpenCV cannot load ({error})",
            todo="install what it needs (Debian: apt install libgl1), "
            "or install opencv-python-headless in place of opencv-python",
        ) from error
    return cv2


def import_chart_finder() -> Any:
    """Return OpenCV's ``mcc`` module, which finds colour charts.

    Raises MissingLibraryError where this OpenCV has none: plain builds of 4.x leave it to the "contrib" ones.
    """
    cv2 = import_cv2()
    if not hasattr(cv2, "mcc"):
        raise MissingLibraryError(
            f"OpenCV {cv2.__version__} cannot look for a colour chart, which the setup file asks for",
            todo="run: pip install 'opencv-python-headless>=5', or leave `chart = true` out of the setup file",
        )
    return cv2.mcc
