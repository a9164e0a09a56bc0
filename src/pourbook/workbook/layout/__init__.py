"""Where every block of a book stands, and what each of its cells holds."""
