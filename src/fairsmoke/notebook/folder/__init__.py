"""A notebook as a folder of open files: written, read and taken in."""
