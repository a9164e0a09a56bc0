"""The shop's own workbook: what a job takes from it and what is booked in it."""
