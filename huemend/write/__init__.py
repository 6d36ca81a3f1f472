"""The write stage: LUTs, the exact chain, CDLs, pictures, report and record of one setup.

It is handed a result, and imports no other stage.
"""
