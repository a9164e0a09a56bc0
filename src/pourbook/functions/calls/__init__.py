"""What is said on the phone before there is a job: the worksheet function of the sheet Calls."""
