"""What is printed: a sheet for any worksheet, a bell's certificate, a fitter's sheet."""
