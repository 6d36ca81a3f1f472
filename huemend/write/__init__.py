"""The write stage: LUTs, the exact chain, CDLs, pictures, report and record of one setup.

It is handed everything that turns codes into light and back (``huemend.write.results.ColourTools``) and imports no
other stage.
"""
