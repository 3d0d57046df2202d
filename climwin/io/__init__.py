"""Files in and out: daily records, loggers, grids, exports, and the quality of what was read.

Imports from core.
"""
