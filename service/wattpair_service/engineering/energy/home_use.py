"""Household load and energy prices hour by hour: what of a roof's power is used at home, exported, or cut by the export limit.

With hourly weather each hour of the year meets its own load and prices. Representative days have no date: each of their hours
meets the loads and prices of that time on all days of the month, each day as likely as another. The mean over the days of
min(load, power) is piecewise linear in the power, with a knot at each load. So each piece's slope and intercept are tabulated
once, and every power after that costs one search. With prices that change from day to day each day's term has its price.

Neglected: variability of the load inside the hour, storage, daylight saving time; with representative days also that load and
sun may go together from day to day, as with air conditioning.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wattpair_service.engineering.arrays import BoolArray, FloatArray, IntArray
from wattpair_service.engineering.energy.roof_dc import RoofTime
from wattpair_service.engineering.irradiance.conditions import LEAP_DAY, MONTH_OF_DAY
from wattpair_service.engineering.sentences import Words

Prices = float | FloatArray
"""One price, or prices of shape (2, 12, 24): on weekdays and on Saturdays and Sundays, by month and hour of day."""


@dataclass(frozen=True, slots=True, eq=False)
class HomeUse:
    """Share used at home (0-1), or household load [W]; one of the two is None.

    Attributes
    ----------
    load_w : array, optional
        Shape (12, 24): a mean day of each month; or (365, 24) or (366, 24): each day from 1 January, in standard time.
    export_limit_w : float, optional
        Export limit of the grid connection [W]; None without a limit.
    first_weekday : int, optional
        Weekday of 1 January, 0 for Monday; None where unknown, which counts as Monday.
    utc_offset_h : float, optional
        Of the standard time of load and prices; None for that of the weather.
    utc_offset_source : Words, optional
        Where that offset comes from, if not from the request.
    """

    share_used_at_home: float | None
    load_w: FloatArray | None
    export_limit_w: float | None
    first_weekday: int | None = None
    utc_offset_h: float | None = None
    utc_offset_source: Words | None = None

    @property
    def has_days(self) -> bool:
        """Whether the load has days of its own, not one mean day for each month."""
        return self.load_w is not None and len(self.load_w) > 12


@dataclass(frozen=True, slots=True, eq=False)
class Tariff:
    """Energy prices in the first year [currency/kWh], and their relative change from each year to the next."""

    import_price_per_kwh: Prices
    export_price_per_kwh: Prices
    change_share_per_year: float

    @property
    def is_flat(self) -> bool:
        """Whether the prices are the same in every hour."""
        return isinstance(self.import_price_per_kwh, float) and isinstance(self.export_price_per_kwh, float)

    @property
    def has_weekdays(self) -> bool:
        """Whether a price differs between weekdays and weekend."""
        both = (self.import_price_per_kwh, self.export_price_per_kwh)
        return any(not isinstance(each, float) and not np.array_equal(each[0], each[1]) for each in both)


NO_TARIFF = Tariff(0.0, 0.0, 0.0)
SATURDAY = 5
COARSE_PIECES = 64
"""Equal steps up to the highest load in which break-even curves see the loads of a slot."""


def split_by_share(use: HomeUse, tariff: Tariff | None) -> bool:
    """Whether the split of a year follows from its energy alone, without its hours."""
    return use.load_w is None and use.export_limit_w is None and (tariff is None or tariff.is_flat)


@dataclass(frozen=True, slots=True, eq=False)
class Flows:
    """Power used at home and exported [W]; their values by the hour's prices [currency/kWh x W], None with flat prices."""

    home_w: FloatArray
    exported_w: FloatArray
    home_value: FloatArray | None
    exported_value: FloatArray | None

    def scaled(self, scale: FloatArray | float) -> Flows:
        """All of them times `scale`."""
        home_value, exported_value = (None if each is None else each * scale for each in (self.home_value, self.exported_value))
        return Flows(self.home_w * scale, self.exported_w * scale, home_value, exported_value)


@dataclass(frozen=True, slots=True, eq=False)
class Household:
    """Load and prices of a roof's moments, each of which has a slot: an hour of the year, or an hour of day and month.

    Attributes
    ----------
    slot : array of int
        Of each moment.
    load_w : array or None
        Of each slot; None without a load, and where the load of a slot differs between its days.
    pieces : _Pieces or None
        Where it differs.
    import_price, export_price : array or None
        Mean of each slot [currency/kWh]; None with flat prices.
    mean_import_price : float
        Of all hours of the year [currency/kWh].
    load_kwh_by_month : array, shape (12,), or None
        Load in the hours of the weather's year.
    """

    use: HomeUse
    tariff: Tariff
    slot: IntArray
    load_w: FloatArray | None
    pieces: _Pieces | None
    import_price: FloatArray | None
    export_price: FloatArray | None
    mean_import_price: float
    load_kwh_by_month: FloatArray | None

    @classmethod
    def of(cls, use: HomeUse, tariff: Tariff | None, time: RoofTime) -> Household:
        """Load and prices at the moments of a roof."""
        tariff = tariff or NO_TARIFF
        if split_by_share(use, tariff):
            return cls(use, tariff, np.zeros_like(time.month), None, None, None, None, float(tariff.import_price_per_kwh), None)
        days = _Days.of(use, tariff, time)
        if time.hour_of_year is None:
            slot, entry_slot = _month_hour(time), np.tile(days.month_hour[days.is_distinct], 2)
            # An interval of solar time lies in two hours of standard time.
            own_hour, beside = days.hours[days.is_distinct], 1 if time.after_hour_h > 0.0 else -1
            entry_hour = np.concatenate([own_hour, (own_hour + beside) % days.import_price.size])
            weight = np.repeat([1.0 - abs(time.after_hour_h), abs(time.after_hour_h)], own_hour.size)
        else:
            # Of moments that were merged each is a slot of its own, with the hours that it was merged from.
            entry_slot = time.hour_of_year if time.merged_into is None else time.merged_into
            slot = entry_slot if time.merged_into is None else np.arange(time.weight_h.size)
            entry_hour, weight = time.hour_of_year, time.hour_weight_h
        slots = int(max(slot.max(initial=0), entry_slot.max(initial=0))) + 1
        total = np.bincount(entry_slot, weights=weight, minlength=slots)
        share = weight / np.where(total > 0.0, total, 1.0)[entry_slot]

        def mean(values: FloatArray) -> FloatArray:
            return np.bincount(entry_slot, weights=values[entry_hour] * share, minlength=slots).astype(np.float64)

        flat = tariff.is_flat
        load_w, pieces = None, None
        if days.load_w is not None:
            entry_load_w = days.load_w[entry_hour]
            load_w = np.zeros(slots)
            load_w[entry_slot] = entry_load_w
            if not np.array_equal(load_w[entry_slot], entry_load_w):
                prices = () if flat else (days.import_price[entry_hour], days.export_price[entry_hour])
                load_w, pieces = None, _Pieces.of(entry_slot, entry_load_w, share, prices, slots)
        return cls(
            use=use,
            tariff=tariff,
            slot=slot,
            load_w=load_w,
            pieces=pieces,
            import_price=None if flat else mean(days.import_price),
            export_price=None if flat else mean(days.export_price),
            mean_import_price=float(days.import_price[days.hours].mean()),
            load_kwh_by_month=days.load_kwh_by_month(time),
        )

    def coarse(self, time: RoofTime) -> Household:
        """The same household at other moments, faster, and less exact where loads vary."""
        if time.hour_of_year is None:
            household = replace(self, slot=_month_hour(time))
        else:
            household = Household.of(self.use, self.tariff, time)
        return household if household.pieces is None else replace(household, pieces=household.pieces.coarse())

    @property
    def by_share(self) -> bool:
        """Whether the split of a year follows from its energy alone."""
        return split_by_share(self.use, self.tariff)

    def flows(self, power_w: FloatArray, moment: IntArray | slice, scale: FloatArray | float = 1.0) -> Flows:
        """What of powers, shape (..., n), is used at home and what exported.

        Parameters
        ----------
        power_w : array
            Of a roof or a part of it [W].
        moment : array of int, shape (n,), or slice
            Moment of each power.
        scale : array or float
            Share of load and export limit that falls to this part (above 0, at most 1).
        """
        slot, limit_w = self.slot[moment], self.use.export_limit_w
        if self.pieces is not None:
            return self.pieces.flows(power_w / scale, slot, limit_w).scaled(scale)
        if self.load_w is None:
            home_w = power_w * (self.use.share_used_at_home or 0.0)
        else:
            home_w = np.minimum(power_w, self.load_w[slot] * scale)
        exported_w = power_w - home_w
        if limit_w is not None:
            np.minimum(exported_w, limit_w * scale, out=exported_w)
        if self.import_price is None or self.export_price is None:
            return Flows(home_w, exported_w, None, None)
        return Flows(home_w, exported_w, home_w * self.import_price[slot], exported_w * self.export_price[slot])


def _month_hour(time: RoofTime) -> IntArray:
    """Hour of day and month of each moment."""
    return (time.month - 1) * 24 + time.hour


@dataclass(frozen=True, slots=True, eq=False)
class _Days:
    """Load [W] and prices of every hour of a leap year from 1 January, in the standard time of the weather.

    `hours` are those that count: all but 29 February, which is like 28 February where the load has 365 days. `month_hour` is
    the hour of day and month of each of them; `is_distinct` keeps the 15th alone where all days of a month are alike.
    """

    load_w: FloatArray | None
    import_price: FloatArray
    export_price: FloatArray
    hours: IntArray
    month_hour: IntArray
    is_distinct: BoolArray

    @classmethod
    def of(cls, use: HomeUse, tariff: Tariff, time: RoofTime) -> _Days:
        is_leap = use.load_w is not None and len(use.load_w) == MONTH_OF_DAY.size
        month = MONTH_OF_DAY if is_leap else np.delete(MONTH_OF_DAY, LEAP_DAY)
        is_weekend = ((use.first_weekday or 0) + np.arange(month.size)) % 7 >= SATURDAY
        ahead_h = 0 if use.utc_offset_h is None else round(use.utc_offset_h - time.utc_offset_h)

        def every_hour(by_day: FloatArray) -> FloatArray:
            in_time_of_weather = np.roll(by_day, -ahead_h).reshape(-1, 24)
            if is_leap:
                return in_time_of_weather.ravel()
            return np.insert(in_time_of_weather, LEAP_DAY, in_time_of_weather[LEAP_DAY - 1], axis=0).ravel()

        def prices(each: Prices) -> FloatArray:
            if isinstance(each, float):
                return np.full(MONTH_OF_DAY.size * 24, each)
            return every_hour(each[is_weekend.astype(np.int64), month - 1])

        load_w = use.load_w
        if load_w is not None:
            load_w = every_hour(load_w if use.has_days else load_w[month - 1])
        hours = np.arange(MONTH_OF_DAY.size * 24)
        if not is_leap:
            hours = np.delete(hours, np.s_[LEAP_DAY * 24 : (LEAP_DAY + 1) * 24])
        month_hour = (MONTH_OF_DAY[hours // 24] - 1) * 24 + hours % 24
        is_15th = np.roll(np.diff(MONTH_OF_DAY, prepend=0) > 0, 14)
        all_differ = use.has_days or tariff.has_weekdays
        return cls(
            load_w,
            prices(tariff.import_price_per_kwh),
            prices(tariff.export_price_per_kwh),
            hours,
            month_hour,
            np.full(hours.size, True) if all_differ else is_15th[hours // 24],
        )

    def load_kwh_by_month(self, time: RoofTime) -> FloatArray | None:
        """Load in the hours of the weather's year, which may have no 29 February; None without a load."""
        if self.load_w is None:
            return None
        if time.hour_of_year is not None:
            month = MONTH_OF_DAY[time.hour_of_year // 24]
            return _by_month(month, self.load_w[time.hour_of_year] * time.hour_weight_h) / 1000.0
        month = self.month_hour // 24 + 1
        mean_w = _by_month(month, self.load_w[self.hours]) / _by_month(month, np.ones(month.size))
        return mean_w * _by_month(time.month, time.weight_h) / 1000.0


def _by_month(month: IntArray, values: FloatArray) -> FloatArray:
    return np.bincount(month - 1, weights=values, minlength=12).astype(np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class _Pieces:
    """Mean of min(load, power) over the loads of each slot as a piecewise linear function of the power.

    Attributes
    ----------
    intercept, slope : array, shape (weightings, pieces)
        The pieces of one slot after those of another. Weighted by share alone; with prices also by share times import price,
        and by share times export price.
    total : array, shape (weightings, slots)
        Sums of the weights of each slot.
    knots : array or None
        `slot * span_w + load`, rising: the ends of the pieces. A slot of n loads has n + 1 pieces.
    span_w : float
        Above the highest load.
    """

    intercept: FloatArray
    slope: FloatArray
    total: FloatArray
    span_w: float
    knots: FloatArray | None

    @classmethod
    def of(cls, slot: IntArray, load_w: FloatArray, share: FloatArray, prices: tuple[FloatArray, ...], slots: int) -> _Pieces:
        """The pieces between all loads."""
        span_w = float(load_w.max()) + 1.0
        knots = slot * span_w + load_w
        order = np.argsort(knots)
        knots, slot, load_w = knots[order], slot[order], load_w[order]
        weights = np.stack([share, *(share * each for each in prices)])[:, order]
        total = np.stack([np.bincount(slot, weights=each, minlength=slots).astype(np.float64) for each in weights])
        # The first piece of a slot lies below all its loads; each load then ends one piece and starts the next.
        first = np.searchsorted(slot, np.arange(slots)) + np.arange(slots)
        piece = np.arange(slot.size) + slot + 1
        piece_slot = np.zeros(slot.size + slots, dtype=np.int64)
        piece_slot[piece], piece_slot[first] = slot, np.arange(slots)

        def loads_below(values: FloatArray) -> FloatArray:
            """Sums over the loads below each piece."""
            by_piece = np.zeros((len(weights), piece_slot.size))
            by_piece[:, piece] = values
            sums = np.cumsum(by_piece, axis=1)
            return np.asarray(sums - sums[:, first][:, piece_slot])

        slope = total[:, piece_slot] - loads_below(weights)
        return cls(loads_below(weights * load_w), slope, total, span_w, knots)

    def coarse(self) -> _Pieces:
        """Pieces of equal width in their place, which need no search; exact at their ends."""
        slots, end_w = self.total.shape[1], np.linspace(0.0, self.span_w, COARSE_PIECES + 1)
        slot, power_w = np.repeat(np.arange(slots), end_w.size), np.tile(end_w, slots)
        piece = self._piece(slot, power_w)
        at_end = (self.intercept[:, piece] + self.slope[:, piece] * power_w).reshape(-1, slots, end_w.size)
        # The last piece is all that lies above the highest load.
        slope = np.diff(at_end, axis=2, append=at_end[..., -1:]) / end_w[1]
        intercept = at_end - slope * end_w
        return replace(self, intercept=intercept.reshape(len(at_end), -1), slope=slope.reshape(len(at_end), -1), knots=None)

    def flows(self, power_w: FloatArray, slot: IntArray, limit_w: float | None) -> Flows:
        """Means over the loads of each power's slot."""
        piece = self._piece(slot, power_w)
        if limit_w is not None:
            # min(surplus, limit) is min(load + limit, power) - min(load, power).
            beyond_w, within_w = np.maximum(power_w - limit_w, 0.0), np.minimum(power_w, limit_w)
            beyond_piece = self._piece(slot, beyond_w)

        def home(weighting: int) -> FloatArray:
            return np.asarray(self.intercept[weighting][piece] + self.slope[weighting][piece] * power_w)

        def exported(weighting: int, home: FloatArray) -> FloatArray:
            total = self.total[weighting][slot]
            if limit_w is None:
                return np.asarray(total * power_w - home)
            beyond = self.intercept[weighting][beyond_piece] + self.slope[weighting][beyond_piece] * beyond_w
            return np.asarray(beyond + total * within_w - home)

        home_w = home(0)
        exported_w = exported(0, home_w)
        if len(self.slope) == 1:
            return Flows(home_w, exported_w, None, None)
        return Flows(home_w, exported_w, home(1), exported(2, home(2)))

    def _piece(self, slot: IntArray, power_w: FloatArray) -> IntArray:
        """Piece of each power; above the highest load it is the slot's last."""
        if self.knots is not None:
            return np.searchsorted(self.knots, slot * self.span_w + np.minimum(power_w, self.span_w)) + slot
        number = np.minimum(power_w * (COARSE_PIECES / self.span_w), COARSE_PIECES).astype(np.int64)
        number += slot * (COARSE_PIECES + 1)
        return number
