"""A plan of the pieces to scale: outlines, what each batch pours, and places on a page."""
