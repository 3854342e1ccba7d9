"""Ways to read a rule otherwise.

Only for the test of the workbook generators: a generator bites when every other reading changes
order lines somewhere. The oracle's answer is the one with no variant at all.
"""

from __future__ import annotations

from enum import StrEnum


class Otherwise(StrEnum):
    # R2 to R9
    FIXED_FROM_STOCK_NOW = "fixed par taken from stock now"
    MULTIPLE_ON_TOP = "multiple counted on top of the minimum"
    LEAD_IN_WORKING_DAYS = "lead in working days"
    UNMET_CARRIED_OVER = "unmet usage carried over"
    DELIVERY_AFTER_USE = "deliveries after the day's use"
    WINDOW_INCLUDES_END = "window including its end"
    TODAY_LEFT_OUT = "today's usage left out"
    CUTOFF_EQUAL_CLOSED = "a cutoff equal to as_of is over"
    PLACE_CLOSURES_IGNORED = "closing days left out of receiving"
    HOURS_OF_DRAWS_IGNORED = "R6 (0) left out"
    WINDOW_BY_DATES = "window by dates"
    LIFE_INCLUDES_RECEIPT_DAY = "shelf life counted from the day received as day 1"
    LATE_ORDERS_DROPPED = "late open orders dropped"
    CONFIRMED_IGNORED = "ordered instead of confirmed cases"
    HOLDS_IGNORED = "lots on hold counted"
    LAST_FIRST = "latest use-by first"
    EVERY_DAY_PAR_ONLY = "weekday pars ignored"
    RANK_IGNORED = "rank ignored"
    NO_BRIDGES = "no bridge until the first choice comes"
    # Where the rules can be read in two ways: what the other way would be worth.
    LATE_LIFE_FROM_DUE = "a late order's life counted from its due date"
    LATE_ON_ANY_DELIVERY_DAY = "a late order comes on days the place receives nothing"
    NO_HOURS_IS_MIDNIGHT = "bookings at a place without hours are needed at 00:00"
    FIRST_RANK_OR_NOTHING = "no second choice where the first has no delivery"
    OFFER_IN_FORCE_TODAY = "offers in force on the day of the run"
    # R12
    ALL_COUNT = "cancelled stops and enquiries counted"
    YIELDS_LEFT_OUT = "yields left out"
    USED_WHEN_NEEDED = "raw usage on the day the batch is needed"
    NO_BATCHES = "no rounding to batches"
    HANDS_OFF_LEFT_OUT = "hands-off hours left out"
    LEFTOVERS_THROWN_AWAY = "leftovers thrown away"
    EVENING_LOAD_LEFT_OUT = "evening load left out"
    WORKING_HOURS_LEFT_OUT = "working hours left out"
    LEFTOVERS_NEVER_EXPIRE = "leftovers never expire"
    EVERY_NEED_ITS_RUN = "every need its own run"
    MINUTES_LEFT_OUT = "batch minutes left out"
    RUN_PER_DATE_NEEDED = "one run per date needed"
    ABOARD_LEFT_OUT = "aboard left out"
    PREPPED_NOT_NETTED = "prepped stock not netted"
    LOADING_ON_CLOSING_DAYS = "closing days left out of loading"
    PREP_ON_CLOSING_DAYS = "closing days left out of prep"
    LATE_BATCHES_DROPPED = "late batches dropped"
    EXPIRED_PREP_NETTED = "expired prepped stock netted"
    INPUTS_ON_FIRST_DAY = "all inputs on the run's first day"
    ALL_DISCARDED = "all discarded at the close"
    USE_BY_ON_LOADING_DAY = "use-by judged on the loading day"
    NOTHING_DISCARDED = "nothing discarded"
    LAST_BATCH_RAISED = "last batch raised to the smallest"
    LIFE_FROM_READY_HOUR = "leftover's life from the ready hour"
    UNDATED_TRUCK_BY_TRUCK = "undated goods truck by truck"
    WALL_CLOCK_HOURS = "wall-clock hours"
    THAW_LEFT_OUT = "thaw hours left out"
    THAW_AT_ANY_HOUR = "thawed goods drawn outside working hours"
    THAW_FOR_BOOKINGS = "thaw hours before bookings at the commissary too"
    LATE_PREP_DAY_IN_THE_PAST = "late needs keep their own past prep days"


Reading = frozenset[Otherwise]
AS_WRITTEN: Reading = frozenset()
