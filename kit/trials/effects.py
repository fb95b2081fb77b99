"""What planned bakes say: effects of a factorial, the surface over two factors, the model of a mixture.

All are least squares with the days taken out; what was baked alike tells the scatter. The figures hold between what
was baked, and nothing is said beyond.
"""

import itertools
import math
from dataclasses import dataclass, field

import numpy as np

from .. import page
from ..errors import AmountError, UnknownName, must
from ..units import read
from ..words import capital, did_you_mean, figure, listing, plain, signed
from .comparing import described
from .fields import trial_fields
from .statistics import t_at

ALIKE = 1e-6  # coded levels nearer than this are one
BAND = 80.0  # % of a prediction's band, as everywhere in the kit


@dataclass(frozen=True, eq=False)
class Levels:
    """What was set in each bake: a row a bake, a column a factor, in its unit and coded (low -1, high +1).

    Of a mixture the coded columns are shares of what the lower bounds leave free, 0 to 1.
    """

    names: tuple
    units: tuple
    real: np.ndarray
    coded: np.ndarray
    days: np.ndarray
    middle: np.ndarray  # real = middle + half x coded
    half: np.ndarray

    @staticmethod
    def of(columns, between=None, days=None, unit=""):
        """Return Levels from {factor: its level in each bake}; between {factor: (low, high)}, else the outermost."""
        try:
            real = np.array([np.asarray(list(values), float) for values in dict(columns).values()]).T
        except (TypeError, ValueError):
            real = np.zeros(0)
        if real.ndim != 2 or not np.isfinite(real).all() or not len(real):
            do = "give one finite figure a bake and factor"
            raise AmountError(must("levels", "{factor: levels}, as many of each", repr(columns)[:60], do))
        names = tuple(map(str, columns))
        ends = np.array([(between or {}).get(n, (c.min(), c.max())) for n, c in zip(names, real.T, strict=True)])
        middle, half = ends.mean(1), np.ptp(ends, axis=1) / 2
        if not (half > 0).all():
            raise AmountError(must(names[int(np.argmin(half))], "set to two levels or more", "one", "vary it"))
        days = np.ones(len(real)) if days is None else np.asarray(days)
        return Levels(names, (unit,) * len(names), real, (real - middle) / half, days, middle, half)


@dataclass(frozen=True, eq=False)
class Fit:
    """Least squares: coefficients, what a scatter of 1 makes of them, the scatter with its degrees of freedom."""

    coefficients: np.ndarray
    covariance: np.ndarray  # for a scatter of 1
    squares: float  # residual sum
    df: int
    pure_squares: float  # of bakes set alike, days taken out
    pure_df: int
    total: float  # sum of squares about the days' means
    total_df: int
    least: float = 0.0  # standard deviation that the instrument's step alone makes

    @property
    def scatter(self):
        """Standard deviation about the model [unit of the values]; None when nothing is left to tell it."""
        return max(math.sqrt(self.squares / self.df), self.least) if self.df else None


def least_squares(columns, days, coded, values=None, least=0.0):
    """Return the Fit of values to a model's columns, with a mean for each day; without values, its errors alone.

    least: below which no scatter is taken [unit of the values]. Raises AmountError when the bakes cannot tell the
    columns apart.
    """
    days = (np.asarray(days)[:, None] == np.unique(days)[None, 1:]).astype(float)
    days -= ~days.any(1)[:, None]  # deviations from the mean of all days, so that the rest is about that mean
    x = np.column_stack([columns, days])
    if len(x) < x.shape[1] or np.linalg.matrix_rank(x) < x.shape[1]:
        do = "bake what is missing, or ask for less"
        raise AmountError(must("bakes", f"enough to tell {x.shape[1]} figures apart", f"{len(x)} bakes", do))
    q, r = np.linalg.qr(x)
    inverse = np.linalg.inv(r)
    values = np.zeros(len(x)) if values is None else values
    found = inverse @ (q.T @ values)
    alike = _indicators(coded)
    every = np.column_stack([alike, days])
    means = np.column_stack([np.ones(len(x)), days])
    p = columns.shape[1]
    squares = [_left(matrix, values) for matrix in (x, every, means)]
    df = [len(x) - np.linalg.matrix_rank(matrix) for matrix in (x, every, means)]
    return Fit(found[:p], (inverse @ inverse.T)[:p, :p], squares[0], int(df[0]), squares[1], int(df[1]),
               squares[2], int(df[2]), least)  # fmt: skip


def _left(matrix, values):
    shifted = values - values.mean()  # constant leading digits cost no accuracy; a mean is in every model
    return float(((shifted - matrix @ np.linalg.lstsq(matrix, shifted, rcond=None)[0]) ** 2).sum())


def _indicators(coded):
    _, place = np.unique(np.round(coded / ALIKE), axis=0, return_inverse=True)
    return np.eye(place.max() + 1)[np.ravel(place)]


def _read(plan_or_levels, values, name):
    """Return Levels and values of the bakes measured; the response's words, unit, digits and least scatter."""
    if isinstance(plan_or_levels, Levels):
        levels, what = plan_or_levels, (name or "the answer", "", 2, 0.0)
        measured = np.asarray(list(values), float)
    else:
        if not hasattr(plan_or_levels, "levels"):
            do = "make one with kit.plan_trials, or Levels.of({factor: levels})"
            raise AmountError(must("plan", "a Plan or Levels", type(plan_or_levels).__name__, do))
        levels, name = plan_or_levels.levels, name or plan_or_levels.field
        measured, what = plan_or_levels.values(values, name), (*described(name), _least(name))
    if measured.shape != (len(levels.real),) or np.isinf(measured).any():
        do = "one figure a bake, NaN for a bake that was lost"
        raise AmountError(must("values", f"{len(levels.real)} finite figures", f"{measured.size}", do))
    kept = ~np.isnan(measured)
    if not kept.any():
        raise AmountError(must("values", "of one bake or more", "none", "bake first"))
    shown = Levels(levels.names, levels.units, levels.real[kept], levels.coded[kept], levels.days[kept],
                   levels.middle, levels.half)  # fmt: skip
    return shown, measured[kept], what


def _least(name):
    """Return the standard deviation that an instrument's step alone makes, uniform over the step [unit]."""
    known = trial_fields().get(plain(name).partition(" day ")[0].replace(" ", "_"))
    return known.resolution / math.sqrt(12) if known is not None and known.resolution > 0 else 0.0


@dataclass(frozen=True)
class Effect:
    """What one factor, or two together, do from low to high; low and high are the 95 % interval, None without error."""

    what: str
    value: float
    error: float | None
    low: float | None
    high: float | None

    @property
    def beyond(self):
        """Whether it is more than scatter: its interval leaves 0 out; None without one."""
        return None if self.error is None else self.low > 0 or self.high < 0


class _Told:
    """A result with a frame, and words that a baker understands."""

    def _unit(self):
        return f", {self.unit}" if self.unit else ""

    def _repr_html_(self):
        frame = self.to_frame()
        rows = [
            [name, *("" if v is None or v != v else figure(v, self.digits + 1) for v in row)]
            for name, row in zip(frame.index, frame.to_numpy(), strict=True)
        ]
        head = [f"{capital(self.what)}{self._unit()}", *frame.columns]
        return page.table(head, rows) + f"<p>{page.escape(self.sentence)}</p>"

    def _with_unit(self, value, show=figure):
        unit = "points" if " to " in self.unit else self.unit
        return f"{show(value, self.digits)} {unit}".strip()


@dataclass(frozen=True, eq=False)
class Effects(_Told):
    """The effects of a factorial: mean at high less mean at low; of two factors together, half the difference."""

    what: str
    unit: str
    digits: int
    effects: tuple
    df: int
    ground: str  # what the errors rest on
    levels: Levels = field(repr=False)

    def __getitem__(self, what):
        """Return an Effect by its name, such as "butter" or "butter × sugar". Raises UnknownName."""
        found = {plain(each.what): each for each in self.effects}
        if plain(what) not in found:
            raise UnknownName(must("effect", f"one of {listing(found, 'or')}", repr(what), did_you_mean(what, found)))
        return found[plain(what)]

    def to_frame(self):
        """Return a DataFrame: effect, standard error, ends of the 95 % interval."""
        rows = [(e.what, e.value, e.error, e.low, e.high) for e in self.effects]
        return page.frame(["from low to high", "effect", "standard error", "95 % from", "to"], rows, index=True)

    @property
    def sentence(self):
        """What moved the answer beyond scatter, and what cannot be told."""
        if not self.df:
            return (f"No standard error: {self.ground}, so no effect on {self.what} can be told from scatter. Bake it "
                    "all again on another day, or add centre bakes.")  # fmt: skip
        sure = [f"{e.what} {self._with_unit(e.value, signed)} (95 % interval {signed(e.low, self.digits)} to "
                f"{signed(e.high, self.digits)})" for e in self.effects if e.beyond]  # fmt: skip
        open_ = [f"{e.what} (at most {figure(max(abs(e.low), abs(e.high)), self.digits)})"
                 for e in self.effects if not e.beyond]  # fmt: skip
        said = f"{capital(self.what)} from low to high: {'; '.join(sure)}." if sure else ""
        none = f" May be nothing: {listing(open_)}." if open_ else ""
        return f"{said}{none} By {self.ground} ({self.df} degrees of freedom).".strip()


def effects(plan, values, field=None, scatter=None):
    """Return the Effects of a two-level factorial on a response.

    plan: a Plan or Levels; values: {code: value}, Trials, or one figure a bake [unit of the field], NaN for a lost
    bake; field: else the plan's. Errors come from bakes set alike, days taken out; where there are none, from a
    Scatter of the kitchen's repeats; else none is said. Effect = mean(+) - mean(-), an interaction half the
    difference (Box, Hunter and Hunter, 1978, ch. 10). Raises AmountError, UnknownName.

    >>> corners = Levels.of({"butter": [18, 25, 18, 25], "sugar": [12, 12, 20, 20]})
    >>> [(each.what, round(each.value, 9)) for each in effects(corners, [47, 44, 46, 41]).effects]
    [('butter', -4.0), ('sugar', -2.0), ('butter × sugar', -1.0)]
    """
    levels, measured, (what, unit, digits, least) = _read(plan, values, field)
    corners = (np.abs(np.abs(levels.coded) - 1) < ALIKE).all(1)
    names, columns = _factorial(levels)
    if np.linalg.matrix_rank(columns[corners]) < columns.shape[1]:
        do = "bake the corners that are missing; lay what is no factorial side by side (kit.side_by_side)"
        raise AmountError(must("corners", f"all {2 ** len(levels.names)} baked", f"{int(corners.sum())} bakes", do))
    made, names = _with_others(columns, names, levels, corners)
    fit = least_squares(made, levels.days, levels.coded, measured, least)
    found, df, ground = fit.scatter, fit.df, "bakes set alike in this plan"
    if not df:
        ground = "no bake was repeated"
        if scatter is not None:
            found, df, ground = scatter.value, scatter.df, "the kitchen's own repeats"
    made = []
    for n, name in enumerate(names[1:], 1):
        twice = 2 if n < columns.shape[1] else 1  # a coefficient is what half the way does
        value = twice * float(fit.coefficients[n])
        made.append(Effect(name, value, *_errors(value, twice * math.sqrt(fit.covariance[n, n]), found, df)))
    return Effects(what, unit, digits, tuple(made), df, ground, levels)


def next_change(found, want="higher", limits=None):
    """Return ({factor: level}, reason): what to bake next by the Effects of a factorial; ({}, reason) for nothing.

    The factor that moved the answer most beyond its scatter, half a step onwards from its better end, or between where
    limits {factor: (lowest, highest)} leave no room; a proposal to bake, no prediction. Raises AmountError.
    """
    if want not in ("higher", "lower"):
        raise AmountError(must("want", "higher or lower", repr(want), "say which way the answer is better"))
    levels, sure = found.levels, [each for each in found.effects if each.beyond and each.what in found.levels.names]
    if not sure:
        return {}, f"No factor moved {found.what} by more than scatter: keep the formula, or try a wider step."
    most = max(sure, key=lambda each: abs(each.value))
    n = levels.names.index(most.what)
    up = (most.value > 0) == (want == "higher")
    end = float(levels.middle[n] + (1 if up else -1) * levels.half[n])
    low, high = (limits or {}).get(most.what, (0.0, math.inf))
    half = end + (1 if up else -1) * float(levels.half[n])
    level = min(max(half, low), high)
    onwards = (level > end + ALIKE) if up else (level < end - ALIKE)
    where = "half a step onwards" if level == half else "onwards as far as the limits go"
    if not onwards:
        level, where = float(levels.middle[n]), "between, since the limits end there"
    with_others = [each.what for each in found.effects if each.beyond and f" {most.what} " in f" {each.what} "
                   and each.what != most.what]  # fmt: skip
    hold = f" It goes with {listing(with_others)}: hold the other where it was {want}." if with_others else ""
    return {most.what: round(level, 2)}, (
        f"{capital(most.what)} moved {found.what} most, {found._with_unit(most.value, signed)} from low to high, "
        f"beyond scatter ({signed(most.low, found.digits)} to {signed(most.high, found.digits)}), and {end:.4g} was "
        f"the {want} end: bake {level:.4g} against it in pairs, {where}.{hold}"
    )


def _errors(value, root, scatter, df):
    """Return the standard error and the ends of the 95 % interval; None for each without degrees of freedom."""
    if not df:
        return None, None, None
    error = root * scatter
    half = t_at(0.975, df) * error
    return error, value - half, value + half


def _factorial(levels):
    """Return the names and columns of a mean, each factor and all their products."""
    names, columns = ["mean"], [np.ones(len(levels.coded))]
    for many in range(1, len(levels.names) + 1):
        for some in itertools.combinations(range(len(levels.names)), many):
            names.append(" × ".join(levels.names[n] for n in some))
            columns.append(levels.coded[:, some].prod(1))
    return names, np.column_stack(columns)


def _with_others(columns, names, levels, among):
    """Return columns and names with one more for each place outside the model: the centre, and a control apart."""
    columns = np.where(among[:, None], columns, np.eye(columns.shape[1])[0])
    for place in np.unique(np.round(levels.coded[~among], 6), axis=0):
        here = ~among & (np.abs(levels.coded - place) < 10 * ALIKE).all(1)
        columns = np.column_stack([columns, here])
        name = "the centre against the corners" if np.abs(place).max() < ALIKE else "the control against the corners"
        names = [*names, name]
    return columns, names


class _Model(_Told):
    """A fitted polynomial that speaks inside the region baked only."""

    @property
    def scatter(self):
        """Standard deviation about the model [unit]; None when nothing is left to tell it."""
        return self.fit.scatter

    def to_frame(self):
        """Return a DataFrame: each coefficient with its standard error and 95 % interval."""
        rows = []
        for n, (name, value) in enumerate(zip(self.terms, self.fit.coefficients, strict=True)):
            root = math.sqrt(self.fit.covariance[n, n])
            rows.append((name, float(value), *_errors(float(value), root, self.scatter, self.fit.df)))
        return page.frame(["term", "coefficient", "standard error", "95 % from", "to"], rows, index=True)

    def inside(self, coded):
        """Return whether places (coded, a row each) lie inside what was baked."""
        from scipy.spatial import Delaunay

        free = self.levels.coded[:, : self.free]
        return Delaunay(free).find_simplex(np.atleast_2d(coded)[:, : self.free], tol=1e-6) >= 0

    def many(self, coded):
        """Return the fitted means at places (coded, a row each), wherever they lie."""
        return self._columns(np.atleast_2d(coded)) @ self.fit.coefficients

    def at(self, **levels):
        """Return (value, low, high) foreseen of one bake at these levels, with its 80 % band [unit].

        levels: one for each factor, in its unit. Raises AmountError beyond what was baked, UnknownName.
        """
        known = {plain(name): n for n, name in enumerate(self.levels.names)}
        row = np.full(len(known), np.nan)
        for name, value in levels.items():
            if plain(name) not in known:
                do = did_you_mean(name, known)
                raise UnknownName(must("factor", f"one of {listing(self.levels.names, 'or')}", repr(name), do))
            row[known[plain(name)]] = read(value, "number", name)
        coded = (row - self.levels.middle) / self.levels.half
        if not np.isfinite(row).all() or abs(self._sum_off(coded)) > 1e-3 or not self.inside(coded)[0]:
            got = listing(f"{name} {value:g}" for name, value in zip(self.levels.names, row, strict=True))
            raise AmountError(must("place", "inside the region that was baked", got, "bake there first"))
        value, x = float(self.many(coded)[0]), self._columns(coded[None])[0]
        if not self.fit.df:
            return value, -math.inf, math.inf
        half = t_at(0.5 + BAND / 200, self.fit.df) * self.scatter * math.sqrt(1 + x @ self.fit.covariance @ x)
        return value, value - half, value + half

    def _sum_off(self, coded):
        return 0.0


@dataclass(frozen=True, eq=False)
class Surface(_Model):
    """The quadratic surface of a response over two factors, coded so that low is -1 and high +1."""

    what: str
    unit: str
    digits: int
    levels: Levels = field(repr=False)
    fit: Fit = field(repr=False)
    free = 2

    @property
    def terms(self):
        """The names of the coefficients."""
        a, b = self.levels.names
        return ("mean", a, b, f"{a}²", f"{b}²", f"{a} × {b}")

    def _columns(self, coded):
        a, b = coded.T
        return np.column_stack([np.ones(len(coded)), a, b, a * a, b * b, a * b])

    @property
    def equation(self):
        """{term: coefficient} with the factors in their own units."""
        mean, a, b, aa, bb, ab = map(float, self.fit.coefficients)
        (m, n), (h, k) = self.levels.middle.tolist(), self.levels.half.tolist()
        aa, bb, ab = aa / h**2, bb / k**2, ab / (h * k)
        a, b = a / h - 2 * aa * m - ab * n, b / k - 2 * bb * n - ab * m
        mean -= a * m + b * n + aa * m * m + bb * n * n + ab * m * n
        return dict(zip(self.terms, (mean, a, b, aa, bb, ab), strict=True))

    def anova(self):
        """Return a DataFrame: sum of squares, df, F and p of the model, its terms, its lack of fit."""
        from scipy.special import fdtrc

        fit = self.fit
        lack, lack_df = fit.squares - fit.pure_squares, fit.df - fit.pure_df
        rows = [("model", fit.total - fit.squares, fit.total_df - fit.df, fit.squares, fit.df)]
        rows += [
            (name, float(b**2 / fit.covariance[n, n]), 1, fit.squares, fit.df)
            for n, (name, b) in enumerate(zip(self.terms, fit.coefficients, strict=True)) if n
        ]  # fmt: skip
        rows.append(("residual", fit.squares, fit.df, None, 0))
        rows.append(("lack of fit", lack, lack_df, fit.pure_squares, fit.pure_df))
        rows.append(("bakes set alike", fit.pure_squares, fit.pure_df, None, 0))
        rows.append(("total", fit.total, fit.total_df, None, 0))
        made = []
        for name, squares, df, against, against_df in rows:
            f = squares / df / (against / against_df) if df and against_df and against else None
            made.append((name, squares, df, f, None if f is None else float(fdtrc(df, against_df, f))))
        return page.frame(["source", "sum of squares", "df", "F", "p"], made, index=True)

    @property
    def lack_of_fit(self):
        """Probability that bakes set alike scatter so that the surface misses by this much; None without repeats."""
        p = self.anova()["p"]["lack of fit"]
        return None if p is None or p != p else float(p)

    @property
    def curvature(self):
        """Eigenvalues of the quadratic part, coded, the least first."""
        _, _, _, aa, bb, ab = self.fit.coefficients
        return np.linalg.eigvalsh([[aa, ab / 2], [ab / 2, bb]])

    @property
    def kind(self):
        """What the stationary point is: highest, lowest, a saddle, or a ridge when one curvature may be none."""
        low, high = self.curvature
        error = math.sqrt(max(self.fit.covariance[3, 3], self.fit.covariance[4, 4])) * (self.scatter or 0.0)
        if min(abs(low), abs(high)) <= (t_at(0.975, self.fit.df) * error if self.fit.df else 1e-9):
            return "ridge"
        return "highest" if high < 0 else "lowest" if low > 0 else "saddle"

    @property
    def stationary(self):
        """({factor: level}, value, whether it lies inside what was baked) where it is level; None on a plane."""
        _, a, b, aa, bb, ab = self.fit.coefficients
        if min(abs(self.curvature)) < 1e-12:
            return None
        coded = np.linalg.solve([[2 * aa, ab], [ab, 2 * bb]], [-a, -b])
        real = self.levels.middle + self.levels.half * coded
        place = dict(zip(self.levels.names, real.tolist(), strict=True))
        return place, float(self.many(coded)[0]), bool(self.inside(coded)[0])

    @property
    def sentence(self):
        """Where the surface is highest or lowest, if it was baked there, and whether the surface holds."""
        lack, found = self.lack_of_fit, self.stationary
        doubt = ("" if lack is None else f" The surface misses the bakes by more than repeats do (p {lack:.3f}): "
                 "don't trust it." if lack < 0.05 else f" No lack of fit is seen (p {lack:.2f}).")  # fmt: skip
        if not self.fit.df:
            doubt = " No bake more than the surface has figures: how sure it is can't be told."
        if found is None or self.kind == "ridge":
            return f"{capital(self.what)} has no sure highest or lowest: in one direction it may be straight.{doubt}"
        place, value, inside = found
        if not inside:
            return f"{capital(self.what)} is level only outside the region baked, of which nothing is said.{doubt}"
        where = listing(f"{name} {figure(level, 1)}" for name, level in place.items())
        is_ = "is level, neither highest nor lowest" if self.kind == "saddle" else f"is {self.kind}"
        return f"{capital(self.what)} {is_}, {self._with_unit(value)}, at {where}, inside the region baked.{doubt}"


def response_surface(plan, values, field=None):
    """Return the quadratic Surface of a response over two factors, by least squares with the days taken out.

    plan, values, field as in `effects`. Terms and lack of fit as in Montgomery (2001), ch. 11. Raises AmountError.
    """
    levels, measured, (what, unit, digits, least) = _read(plan, values, field)
    if len(levels.names) != 2:
        raise AmountError(must("surface", "over two factors", len(levels.names), "bake a central composite"))
    columns = Surface._columns(None, levels.coded)
    fit = least_squares(columns, levels.days, levels.coded, measured, least)
    return Surface(what, unit, digits, levels, fit)


@dataclass(frozen=True, eq=False)
class Mixture(_Model):
    """Scheffé's polynomial of a response over the shares of three things, each share coded 0 to 1 of what is free."""

    what: str
    unit: str
    digits: int
    levels: Levels = field(repr=False)
    fit: Fit = field(repr=False)
    cubic: bool
    free = 2  # the third share is the rest

    @property
    def terms(self):
        """The names of the coefficients."""
        names = self.levels.names
        return (*names, *(f"{a} × {b}" for a, b in itertools.combinations(names, 2)),
                *([" × ".join(names)] if self.cubic else []))  # fmt: skip

    def _columns(self, coded):
        return _scheffe(coded, self.cubic)

    def _sum_off(self, coded):
        return coded.sum() - 1

    @property
    def extremes(self):
        """((shares, value) lowest, (shares, value) highest) of the model on a grid inside what was baked."""
        grid = np.array([(i, j, 60 - i - j) for i in range(61) for j in range(61 - i)]) / 60
        grid = grid[self.inside(grid)]
        values = self.many(grid)
        real = self.levels.middle + self.levels.half * grid
        return tuple((dict(zip(self.levels.names, real[n].tolist(), strict=True)), float(values[n]))
                     for n in (int(values.argmin()), int(values.argmax())))  # fmt: skip

    @property
    def sentence(self):
        """Where the answer is lowest and highest inside what was baked."""
        said = []
        for word, (place, value) in zip(("lowest", "highest"), self.extremes, strict=True):
            where = listing(f"{name} {figure(share, 0)}" for name, share in place.items())
            try:
                _, low, high = self.at(**place)
            except AmountError:  # a corner that the grid's rounding puts outside
                low = high = math.inf
            band = f", one bake {figure(low, self.digits)} to {figure(high, self.digits)}" if math.isfinite(low) else ""
            said.append(f"{word} at {where} ({self._with_unit(value)}{band})")
        sure = "80 % bands" if self.fit.df else "no bake was repeated, so how sure it is can't be told"
        return f"{capital(self.what)} in the region baked: {listing(said)}; {sure}."


def mixture_model(plan, values, field=None, cubic=None):
    """Return the Mixture model of a response: Scheffé's quadratic, or his special cubic.

    plan, values, field as in `effects`; the levels of Levels are shares that sum to 1. cubic: None for where the
    bakes allow it. y = sum b_i x_i + sum b_ij x_i x_j (+ b_123 x_1 x_2 x_3) (Scheffé, 1958 and 1963). Raises
    AmountError.
    """
    levels, measured, (what, unit, digits, least) = _read(plan, values, field)
    if isinstance(plan, Levels):
        nothing, whole = np.zeros(levels.real.shape[1]), np.ones(levels.real.shape[1])
        levels = Levels(levels.names, levels.units, levels.real, levels.real, levels.days, nothing, whole)
    if levels.coded.shape[1] != 3 or (np.abs(levels.coded.sum(1) - 1) > 1e-3).any():
        do = "give Levels of three shares, or a plan of a mixture"
        raise AmountError(must("shares", "three that sum to 1 in each bake", listing(levels.names), do))
    among = (levels.coded > -1e-6).all(1)  # a control beyond the lower bounds is no part of the model
    if not among.all():
        levels = Levels(levels.names, levels.units, *(a[among] for a in (levels.real, levels.coded, levels.days)),
                        levels.middle, levels.half)  # fmt: skip
        measured = measured[among]
    if cubic is None:
        cubic = np.linalg.matrix_rank(_scheffe(levels.coded, True)) == 7
    fit = least_squares(_scheffe(levels.coded, cubic), levels.days, levels.coded, measured, least)
    return Mixture(what, unit, digits, levels, fit, bool(cubic))


def _scheffe(coded, cubic=False):
    a, b, c = coded.T
    return np.column_stack([a, b, c, a * b, a * c, b * c, *([a * b * c] if cubic else [])])
