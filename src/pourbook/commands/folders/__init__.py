"""Commands that read a whole folder of jobs; contract as of :mod:`pourbook.commands`."""
