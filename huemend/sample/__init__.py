"""The first stage: the setup file, and the stills and frames that it names, as recorded."""
