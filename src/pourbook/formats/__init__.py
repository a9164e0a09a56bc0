"""Open formats, each a page, without knowledge of jobs: calendars, codes, ledgers, CSV, files."""
