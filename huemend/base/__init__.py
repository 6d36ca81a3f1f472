"""The ground: units, arrays, files, locks, text, OpenCV, and the one module that knows threads."""
