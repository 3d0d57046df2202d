"""Station history: search, download through meteostat, the store on disk, places by name.

The only room with a socket.

Imports from core and io.
"""
