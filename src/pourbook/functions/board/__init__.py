"""Many jobs on one calendar: the worksheet function of the board."""
