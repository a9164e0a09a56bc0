"""Many workbooks at once: finding and reading a folder of jobs, the month's roll-up, learning."""
