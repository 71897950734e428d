"""The review as JSON: the keys other programs read, numbers unrounded, null where nothing can be said."""

from __future__ import annotations

import json
from typing import Any

from .curve import ShareFailed
from .groups import GroupFigure
from .npmle import Mass
from .results import Effect, Review


def to_json(review: Review) -> str:
    """The review's JSON text, indented, with a final line end; the same review gives the same bytes."""
    return json.dumps(as_object(review), indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def as_object(review: Review) -> dict[str, Any]:
    """The same as nested lists and mappings, ready for a JSON encoder."""
    return {
        "rows": review.rows,
        "clusters": review.clusters,
        "failures": review.failures,
        "edge_days": review.edge_days,
        "npmle": [_mass(m) for m in review.npmle],
        "cumulative": [_share(s) for s in review.cumulative],
        "groups": {name: [_group(f) for f in figures] for name, figures in review.groups},
        "effects": [_effect(e) for e in review.effects],
        "warnings": [n.words for n in review.notices],
    }


def _mass(mass: Mass) -> dict[str, Any]:
    until = None if mass.until is None else _whole(mass.until)
    return {"from": _whole(mass.after), "to": until, "mass": mass.mass}


def _whole(day: float) -> float | int:
    return int(day) if day == int(day) else day


def _share(share: ShareFailed) -> dict[str, Any]:
    return {"day": share.day, "estimate": share.estimate, "low": share.low, "high": share.high}


def _group(figure: GroupFigure) -> dict[str, Any]:
    rate, shrunken = figure.rate_interval, figure.shrunken_interval
    return {
        "level": figure.level,
        "edges": figure.edges,
        "failures": figure.failures,
        "edge_days": figure.edge_days,
        "rate": figure.rate,
        "low": None if rate is None else rate.low,
        "high": None if rate is None else rate.high,
        "shrunken": figure.shrunken,
        "shrunken_low": None if shrunken is None else shrunken.low,
        "shrunken_high": None if shrunken is None else shrunken.high,
        "p_worst3": figure.p_worst3,
    }


def _effect(effect: Effect) -> dict[str, Any]:
    contrast = effect.contrast
    low, high = contrast.interval()
    return {
        "factor": contrast.factor,
        "level": contrast.level,
        "reference": contrast.reference,
        "hazard_ratio": contrast.ratio,
        "low": low,
        "high": high,
        "p": contrast.p,
        "q": effect.q,
        "crude_ratio": effect.crude_ratio,
        "stratified_ratio": effect.stratified_ratio,
        "verdict": effect.verdict.words,
        "more_edges_needed": effect.more_edges,
        "edges": contrast.edges,
        "failures": contrast.failures,
    }
