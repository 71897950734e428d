"""Whether an arm is less careful than the shop's method. Pure: no framework, no clock."""

from shopwarranty.trade.technique import FieldKind, TechniqueField, Value

NO_IS_MORE_CAREFUL = frozenset({"left_short", "cut_on_panel"})
MORE_IS_MORE_CAREFUL = frozenset(
    {"passes", "wrap_in_wanted_mm", "wrap_in_reached_mm", "dwell_h", "acclimatised_h", "recheck_min"}
)


def plainly_less_careful(field: TechniqueField, usual: Value, other: Value) -> bool:
    """A step left out or done less often. What only a person can judge is asked, and this never overruled."""
    if field.kind is FieldKind.YES_NO:
        careful = field.key not in NO_IS_MORE_CAREFUL
        return usual is careful and other is not careful
    if field.key in MORE_IS_MORE_CAREFUL and usual is not None and other is not None:
        return float(other) < float(usual)
    return False
