"""The second door: what outsiders reach by a link that the shop gave them, and nothing else."""
