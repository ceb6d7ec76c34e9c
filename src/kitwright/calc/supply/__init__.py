"""Supply: what a kit costs, when to send castings, what can be promised."""
