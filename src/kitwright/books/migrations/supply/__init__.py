"""The tables of the fourth version, written out so that no later change reaches them."""
