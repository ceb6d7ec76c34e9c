"""Quality: which bells may be sold, and whether the process is fit."""
