"""The worksheet function of the drawing."""
