"""What a crop tolerates and how it grows: the model, and the catalogue in ``data``.

Imports from core, io and stations.
"""
