"""The case that the kit-cost worksheet shows."""

from __future__ import annotations

from typing import Final

EXAMPLE: Final = """
# What does each kit cost, and what is left? Money is text with its currency, never a bare number.
currency = "USD"                     # what the answer is in
on = "2026-03-02"                    # the day it is worked out for: rates go by it
wanted_margin = 0.45                 # share of the price you want left

# What one of a currency was worth, by day, typed in by you. Old ones are told.
rates = [
  {from = "EUR", to = "USD", rate = "1.0842", date = "2026-02-20"},
]
oldest_rate_days = 30

# Parts that every variant has; an assembly brings its own parts with it.
shared = [
  {part = "hydraulic release bearing", alternative = "cable release"},
  {part = "bell bolt set"},
  {part = "dowel, plain", count = 2},
  {part = "mount kit"},
]

[[variants]]
name = "cast bell"
bell = "cast bell"
price = {amount = "3295.00", currency = "USD"}

[[variants]]
name = "certified steel bell"
bell = "steel bell"
price = {amount = "3840.00", currency = "USD"}
parts = [{part = "block plate"}]

[[bells]]
name = "cast bell"
price = {amount = "158.00", currency = "EUR"}        # one raw casting
freight = {price = {amount = "340.00", currency = "EUR"}, castings = 24}
duty_percent = 2.5
inspection = {amount = "18.00", currency = "USD"}    # of each casting that was machined
packing = {amount = "14.50", currency = "USD"}
[bells.machining]
price = {amount = "196.00", currency = "USD"}
set_up = {amount = "420.00", currency = "USD"}
batch = 12
yield = 0.92                         # of castings sent, so many come back good, on the mean
scrap = {amount = "9.00", currency = "USD"}

[[bells]]
name = "steel bell"                  # bought ready, with its certificate
price = {amount = "742.00", currency = "USD"}
freight = {price = {amount = "260.00", currency = "USD"}, castings = 8}
inspection = {amount = "18.00", currency = "USD"}
packing = {amount = "17.00", currency = "USD"}

[[parts]]
name = "hydraulic release bearing"
price = {amount = "148.00", currency = "USD"}

[[parts]]
name = "cable release"               # could stand in its place
price = {amount = "171.50", currency = "USD"}

[[parts]]
name = "bell bolt set"
made_of = [{part = "bolt M10", count = 6}, {part = "washer M10", count = 6}]
assembling = {amount = "0.80", currency = "USD"}     # counting out and bagging

[[parts]]
name = "bolt M10"
price = {amount = "88.00", currency = "USD"}
price_of = 100

[[parts]]
name = "washer M10"
price = {amount = "3.95", currency = "EUR"}
price_of = 100

[[parts]]
name = "dowel, plain"
price = {amount = "3.10", currency = "USD"}

[[parts]]
name = "mount kit"
made_of = [{part = "cross member"}, {part = "rubber mount", count = 2}]

[[parts]]
name = "cross member"
price = {amount = "164.00", currency = "USD"}

[[parts]]
name = "rubber mount"
price = {amount = "21.40", currency = "USD"}

[[parts]]
name = "block plate"
price = {amount = "52.00", currency = "USD"}

[[parts]]
name = "eccentric dowel pair"
price = {amount = "16.20", currency = "USD"}

[[options]]
name = "eccentric dowels, three pairs"
price = {amount = "89.00", currency = "USD"}
parts = [{part = "eccentric dowel pair", count = 3}]
"""
