"""What the shop does: receive crates, judge a batch, take orders, stand by a fitter.

Every function takes the shop's books first and does its work in one transaction; dates and names
are passed in. Faces call these and show what comes back.
"""
