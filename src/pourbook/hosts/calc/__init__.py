"""LibreOffice Calc: the catalogue as one add-in package, in Python from end to end.

``package`` builds the file, ``install`` hands it to LibreOffice; ``component``, ``values`` and
``saved`` are what runs inside LibreOffice.
"""
