"""The ground: units, arrays, files, locks, OpenCV, and the one module that knows threads."""
