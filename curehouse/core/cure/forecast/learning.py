"""A workshop's prior, learnt from its own batches, finished or not (empirical Bayes, by EM)."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from .airing import WORTH_HEARING, Airs, Message, effect, share_counted, worth
from .batches import WeighedBatch
from .damp import room_cov
from .humidity import Rooms
from .packing import FILL, Packed, packed, size_squares
from .posterior import Fit, fit
from .prior import COVARIATES, CURVE, DRYING, Floats, Prior, cold_prior

ROUNDS, ROUNDS_ON, ROUNDS_LOGGED = 8, 3, 4
# Steps of a round's fits: the first, and those that go on where the round before stood.
_STEPS, _STEPS_ON = 6, 3
# Batches', formulas' and readings' worth of what was taken to hold at first.
_WORTH_BATCH, _WORTH_FORMULA, _WORTH_BAR, _WORTH_ROOM = 10.0, 4.0, 20.0, 20.0
# Batches scatter as under Student's t with this many degrees of freedom.
_BATCH_TAIL = 4.0


Memory = dict[tuple[tuple[WeighedBatch, ...], float, Prior, Prior | None], Prior]


def learn(
    batches: Sequence[WeighedBatch],
    *,
    step_g: float,
    room: Rooms | None = None,
    start: Prior | None = None,
    earlier: Prior | None = None,
    memory: Memory | None = None,
) -> Prior:
    """Return the prior that a workshop's batches teach; the start where there are none.

    Parameters
    ----------
    batches
        Its batches with what is known of each by now.
    step_g
        The scale's step in grams.
    room
        The rooms' logs by name, where there are any.
    start
        What to take to hold without any; `cold_prior` if not given.
    earlier
        What most of these batches taught already: a few rounds from there will do.
    memory
        What was taught without a log, by what it was taught by: looked up, and added to. With a log is learnt without too.
    """
    cold = cold_prior() if start is None else start
    batches = sorted(batches, key=lambda batch: (batch.key, batch.last_day))
    if not batches:
        return _drying_if_shown(cold, cold)
    base = _widened(cold, tuple(sorted({batch.formula for batch in batches})))
    first = _carried(base, earlier) if earlier is not None and earlier.learnt_from else base
    rounds = ROUNDS if first is base else ROUNDS_ON
    key, known = (tuple(batches), step_g, cold, earlier), {} if memory is None else memory
    if key not in known:
        known[key] = _drying_if_shown(_rounds(batches, base, first, rounds, step_g, None)[0], base)
    without = known[key]
    if room is None:
        return without
    if first is base:
        # Most of what is learnt with a log is learnt without one.
        first, rounds = _carried(base, without), ROUNDS_LOGGED
    found, messages = _rounds(batches, base, first, rounds, step_g, room)
    found = replace(_drying_if_shown(found, base), room_sd=without.room_sd)
    if messages and found.damp_effect > 0 and _odds(messages, Airs.of(batches), found, without) >= WORTH_HEARING:
        return found
    return replace(found, damp_effect=0.0, logged_room_sd=without.room_sd) if _drying_shown(found) else without


def _odds(messages: list[Message], airs: Airs, found: Prior, without: Prior) -> float:
    """Return the log of the odds by which a log explains the weighings better than none."""
    share = share_counted(messages, airs, found.logged_room_sd, found.mix)
    heard = worth(messages, found.logged_room_sd, found.mix, share, heard=True)
    return heard - worth(messages, without.room_sd, without.mix, share, heard=False)


def _rounds(
    batches: Sequence[WeighedBatch], base: Prior, prior: Prior, rounds: int, step_g: float, room: Rooms | None
) -> tuple[Prior, list[Message]]:
    """Return what some rounds of learning teach, and what the batches with a log said of the damp in the last."""
    airs = Airs.of(batches)
    groups = [group for group, _places in packed(batches, prior, room, fill=FILL)]
    before: list[Fit | None] = [None] * len(groups)
    messages: list[Message] = []
    for _ in range(rounds):
        sums, messages, plugged_in = _Sums.empty(prior), [], _plugged_in(prior)
        for number, group in enumerate(one.by(prior) for one in groups):
            start = before[number]
            steps = _STEPS if start is None else _STEPS_ON
            found = before[number] = fit(group, plugged_in, step_g=step_g, start=start, steps=steps)
            sums.add(group, found, prior)
            if group.logged:
                messages.append(Message.of(group, found))
        prior = sums.maximised(prior, base)
        if messages:
            share = share_counted(messages, airs, prior.logged_room_sd, prior.mix)
            prior = replace(prior, damp_effect=effect(messages, prior.logged_room_sd, prior.mix, share))
        else:
            prior = replace(prior, damp_effect=0.0, logged_room_sd=prior.room_sd)
    return replace(prior, learnt_from=len(batches)), messages


def _drying_shown(prior: Prior) -> bool:
    return bool(prior.coefficient_array()[:, DRYING].any())


def _drying_if_shown(prior: Prior, base: Prior) -> Prior:
    """Return the prior without what the air's drying does unless the batches show strongly that it does something.

    By the ratio of Savage and Dickey: how much likelier nought was beforehand than it is by now.
    """
    width = prior.width()
    table = prior.coefficient_array().copy()
    cov, before = (np.asarray(one.coefficient_cov).reshape(CURVE, width, CURVE, width).copy() for one in (prior, base))
    shift, after, first = table[:, DRYING], cov[:, DRYING, :, DRYING], before[:, DRYING, :, DRYING]
    odds = 0.5 * (shift @ np.linalg.solve(after, shift) + np.linalg.slogdet(after)[1] - np.linalg.slogdet(first)[1])
    if odds >= WORTH_HEARING:
        return prior
    table[:, DRYING] = 0.0
    cov[:, DRYING], cov[..., DRYING] = 0.0, 0.0
    return replace(prior, coefficients=tuple(table.ravel().tolist()), coefficient_cov=tuple(cov.ravel().tolist()))


def _widened(cold: Prior, formulas: tuple[str, ...]) -> Prior:
    """Give every formula a column of its own, as far from the others as formulas are."""
    width = COVARIATES + len(formulas)
    coefficients = np.zeros((CURVE, width))
    coefficients[:, :COVARIATES] = cold.coefficient_array()[:, :COVARIATES]
    cov = np.zeros((CURVE, width, CURVE, width))
    old = np.asarray(cold.coefficient_cov).reshape(CURVE, cold.width(), CURVE, cold.width())
    cov[:, :COVARIATES, :, :COVARIATES] = old[:, :COVARIATES, :, :COVARIATES]
    for a in range(CURVE):
        for p in range(COVARIATES, width):
            cov[a, p, a, p] = cold.formula_sd[a] ** 2
    return replace(
        cold, formulas=formulas, coefficients=tuple(coefficients.ravel().tolist()), coefficient_cov=tuple(cov.ravel().tolist())
    )


def _carried(base: Prior, earlier: Prior) -> Prior:
    """Return what was learnt earlier over the formulas there are now."""
    coefficients, old = base.coefficient_array().copy(), earlier.coefficient_array()
    coefficients[:, :COVARIATES] = old[:, :COVARIATES]
    for place, name in enumerate(base.formulas):
        if name in earlier.formulas:
            coefficients[:, COVARIATES + place] = old[:, COVARIATES + earlier.formulas.index(name)]
    return replace(
        earlier,
        formulas=base.formulas,
        coefficients=tuple(coefficients.ravel().tolist()),
        coefficient_cov=base.coefficient_cov,
        learnt_from=0,
    )


def _plugged_in(prior: Prior) -> Prior:
    """Return the prior with its coefficients taken for known, as the E step wants it."""
    return replace(prior, coefficient_cov=tuple(np.zeros(len(prior.coefficient_cov)).tolist()))


@dataclass(slots=True)
class _Sums:
    precision: Floats
    pull: Floats
    rests: list[tuple[Floats, Floats, Floats, Floats]] = field(default_factory=list)
    bars: Floats = field(default_factory=lambda: np.zeros(3))
    sizes: Floats = field(default_factory=lambda: np.zeros(2))
    room: dict[bool, Floats] = field(default_factory=lambda: {False: np.zeros(2), True: np.zeros(2)})
    drift: Floats = field(default_factory=lambda: np.zeros(2))
    noise: Floats = field(default_factory=lambda: np.zeros(2))

    @classmethod
    def empty(cls, prior: Prior) -> "_Sums":
        size = CURVE * prior.width()
        return cls(np.zeros((size, size)), np.zeros(size))

    def add(self, group: Packed, found: Fit, prior: Prior) -> None:
        self._add_curve(group, found)
        self._add_bars(found)
        self.sizes += size_squares(group.scale_g).sum(), group.scale_g.size - len(group.batches)
        self._add_common(group, found, prior)
        # A reading's own noise, as if every parameter of a bar were free to eat up of it. Of batches of few weighings that
        # is more than their noise, and is wanted: a curve that is no more than like the real one must not be believed to
        # run through them to the tenth. With what the fit really takes up, ranges of cures made for scores held less often.
        # Batches of as many sessions are taken together.
        count, held = group.seen.sum(), group.held.sum(axis=1)
        own, parameters = group.seen.sum(axis=(1, 2)), found.bars[0].size + found.curve[0].size
        alike = held[:, None] == held
        left = 1 - parameters * alike.sum(axis=1) / np.maximum(alike @ own, 1)
        eaten = np.sqrt(np.maximum(left, 0.2))[:, None, None]
        # The rest of a residual is rounding: only its share is the reading's own.
        share = prior.reading_sd**2 / found.reading_var[:, :, None]
        square = found.weights * found.reading_var[:, :, None] * (found.residuals * share / eaten) ** 2
        self.noise += ((square + prior.reading_sd**2 * (1 - share)) * group.seen).sum(), count

    def _add_curve(self, group: Packed, found: Fit) -> None:
        between = found.curve_precision
        own = found.shared_cov[:, :CURVE, :CURVE]
        off = found.curve - found.curve_mean
        spread = np.linalg.inv(between) + own
        far = (off[:, None, :] @ np.linalg.solve(spread, off[..., None]))[:, 0, 0]
        trust = np.minimum(1.0, (_BATCH_TAIL + CURVE) / (_BATCH_TAIL + far))
        info = trust[:, None, None] * (between - between @ own @ between)
        wanted = trust[:, None] * (between @ (found.curve[..., None] - own @ between @ found.curve_mean[..., None]))[..., 0]
        self.precision += np.einsum("nab,np,nq->apbq", info, group.design, group.design, optimize=True).reshape(
            self.precision.shape
        )
        self.pull += np.einsum("na,np->ap", wanted, group.design).ravel()
        self.rests.append((found.curve, own, group.design, trust))

    def _add_bars(self, found: Fit) -> None:
        moved = found.gain @ found.shared_cov[:, None] @ np.swapaxes(found.gain, 2, 3)
        var = found.bars**2 + np.diagonal(found.bar_cov + moved, axis1=2, axis2=3)
        self.bars += var[..., 0].sum(), var[..., 1].sum(), var[..., 0].size

    def _add_common(self, group: Packed, found: Fit, prior: Prior) -> None:
        own = found.shared_cov[:, CURVE:, CURVE:]
        eye = np.eye(own.shape[1])
        both = group.held[:, :, None] & group.held[:, None, :]
        share = found.room @ np.linalg.inv(found.room + found.session_var[:, :, None] * eye)
        off = (found.common - found.common_mean)[..., None]
        path = share @ off
        var = share @ own @ np.swapaxes(share, 1, 2) + found.room - share @ found.room
        # What only fills up stands apart from what was held, and adds nothing.
        unit = np.where(both, room_cov(group.sessions, group.sessions, prior.mix), 0.0) + 1e-6 * eye
        unit += np.where(group.held, 0.0, 1.0)[:, :, None] * eye
        own_path = path * group.held[..., None]
        solved = np.linalg.solve(unit, np.concatenate([own_path, np.where(both, var, 0.0)], axis=2))
        size = (np.swapaxes(own_path, 1, 2) @ solved[..., :1])[:, 0, 0] + np.trace(solved[..., 1:], axis1=1, axis2=2)
        self.room[group.logged] += size.sum(), (group.held & (group.sessions > 0)).sum()
        drift = (off - path)[..., 0] ** 2 + np.diagonal(
            (eye - share) @ own @ np.swapaxes(eye - share, 1, 2) + found.room - share @ found.room, axis1=1, axis2=2
        )
        self.drift += (drift * prior.session_sd**2 / found.session_var)[group.held].sum(), group.held.sum()

    def maximised(self, prior: Prior, base: Prior) -> Prior:
        width = prior.width()
        cov = np.asarray(base.coefficient_cov).reshape(self.precision.shape).reshape(CURVE, width, CURVE, width).copy()
        for a in range(CURVE):
            for p in range(COVARIATES, width):
                cov[a, p, a, p] = prior.formula_sd[a] ** 2
        first = np.linalg.inv(cov.reshape(self.precision.shape))
        after = np.linalg.inv(first + self.precision)
        coefficients = after @ (first @ np.asarray(base.coefficients) + self.pull)
        table, spread = coefficients.reshape(CURVE, width), after.reshape(CURVE, width, CURVE, width)
        total, weight = _WORTH_BATCH * np.asarray(base.batch_cov).reshape(CURVE, CURVE), _WORTH_BATCH
        for curve, own, design, trust in self.rests:
            off = curve - design @ table.T
            total = total + np.einsum("n,na,nb->ab", trust, off, off) + (trust[:, None, None] * own).sum(axis=0)
            weight += trust.sum()
        formula_var = _WORTH_FORMULA * np.square(base.formula_sd)
        for a in range(CURVE):
            for p in range(COVARIATES, width):
                formula_var[a] += table[a, p] ** 2 + spread[a, p, a, p]
        formula_var /= _WORTH_FORMULA + width - COVARIATES
        bars = [float(np.sqrt((_WORTH_BAR * base.bar_sd[i] ** 2 + self.bars[i]) / (_WORTH_BAR + self.bars[2]))) for i in (0, 1)]
        return replace(
            prior,
            coefficients=tuple(coefficients.tolist()), coefficient_cov=tuple(after.ravel().tolist()),
            batch_cov=tuple((total / weight).ravel().tolist()), formula_sd=tuple(np.sqrt(formula_var).tolist()),
            bar_sd=(bars[0], bars[1]),
            size_sd=_spread(self.sizes, base.size_sd, _WORTH_BAR),
            room_sd=_spread(self.room[False], base.room_sd, _WORTH_ROOM),
            logged_room_sd=_spread(self.room[True], base.room_sd, _WORTH_ROOM),
            session_sd=_spread(self.drift, base.session_sd, _WORTH_ROOM),
            reading_sd=_spread(self.noise, base.reading_sd, _WORTH_ROOM),
        )  # fmt: skip


def _spread(sums: Floats, base: float, worth: float) -> float:
    return float(np.sqrt((worth * base**2 + sums[0]) / (worth + sums[1])))
