"""Trade formulas: pure functions on SI floats, one topic a module.

Contract: no spreadsheet, no unit library, no file inside; every public function names its source,
its units and its range of validity, refuses values outside it with
:class:`pourbook.errors.InputError`, and carries an example that runs as a test.
"""
