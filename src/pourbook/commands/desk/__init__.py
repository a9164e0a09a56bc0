"""The window for a shop PC without a terminal; contract as of :mod:`pourbook.commands`."""
