"""The worksheet functions: one catalogue that serves every host.

Contract: a host hands over plain values (see :mod:`pourbook.cells`) and shows what comes
back; every conversion of units and every refusal happens here, never in a host.
"""
