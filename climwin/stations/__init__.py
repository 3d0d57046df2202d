"""Station history: search, download through meteostat, the store on disk, places by name.

The only folder that opens a socket.

Imports from core and io.
"""
