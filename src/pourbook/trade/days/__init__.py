"""The steps of a job, and their places in working days."""
