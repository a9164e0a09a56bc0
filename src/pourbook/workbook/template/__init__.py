"""The template language: what sheets, blocks and fields a book has."""
