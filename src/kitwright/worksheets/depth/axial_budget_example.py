"""The axial-budget worksheet's example: a bell between block and gearbox, lengths invented."""

from __future__ import annotations

from typing import Final

EXAMPLE: Final = """
# From the block face to the release bearing: what is the gap between bearing and fingers?
# Lengths along the crank axis. A link opens the gap (sense = 1) or takes from it (sense = -1).
gap = {low = "1/8 in", high = "1/4 in"}    # common practice, no source; the bearing maker's rules

[[links]]
name = "bell, block face to gearbox face"
nominal = "165 mm"
plus = "0.05 mm"
minus = "0.05 mm"
sense = 1
spread = "normal"                    # its half-width is 3 sigma; or "even", "triangle"
cpk = 1.33                           # what the machinist's process holds, where it is known
mean = "165.005 mm"                  # where that process sits; the middle if left out

[[links]]
name = "gearbox face to bearing, fully back"
nominal = "64.4 mm"
plus = "0.6 mm"
minus = "0.6 mm"
sense = -1
spread = "even"

[[links]]
name = "block face to flywheel's face"
nominal = "44 mm"
plus = "0.3 mm"
minus = "0.3 mm"
sense = -1
spread = "normal"

[[links]]
name = "flywheel's face to finger tips"
nominal = "52 mm"
plus = "1.5 mm"
minus = "0.5 mm"
sense = -1
spread = "triangle"

# These two have no sense in the gap; they stand in the other requirements.
[[links]]
name = "gearbox face to shaft's tip"
nominal = "159 mm"
plus = "0.4 mm"
minus = "0.4 mm"

[[links]]
name = "block face to pilot bearing"
nominal = "18 mm"
plus = "0.3 mm"
minus = "0.3 mm"

# Other gaps that the same links must close to.
[[requirements]]
name = "pilot engagement"
gap = {low = "11.5 mm", high = "13 mm"}
links = [
  {name = "gearbox face to shaft's tip", sense = 1},
  {name = "block face to pilot bearing", sense = 1},
  {name = "bell, block face to gearbox face", sense = -1},
]
"""
