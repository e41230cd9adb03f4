"""Odds of a search as its page tells them: shares in words, and the rules that hold least often."""

from dataclasses import dataclass
from typing import Any

ALMOST = 0.995


@dataclass(frozen=True)
class RuleOdds:
    """How often one rule holds. is_minimum is None where the rule has no limit, such as a shift."""

    label: str
    limit: float | None
    suffix: str
    is_minimum: bool | None
    share: str


@dataclass(frozen=True)
class OddsShown:
    """Odds that every rule in the way holds; error is empty where the weathers drawn are all alike."""

    share: str
    error: str
    rules: list[RuleOdds]
    left_out: list[str]


def share_words(odds: float) -> str:
    """A share counted in some hundred draws is never told as certain."""
    if odds > ALMOST:
        return "over 99%"
    return "under 1%" if odds < 1 - ALMOST else f"{odds:.0%}"


def share_in_short(odds: float) -> str:
    """The same for narrow places; empty where there is hardly a chance."""
    if odds > ALMOST:
        return ">99%"
    return "" if odds < 1 - ALMOST else f"{odds:.0%}"


def odds_shown(result: dict[str, Any], counted: dict[str, Any]) -> OddsShown | None:
    """The odds of an hour or a run of a result; None in results of an engine that drew no weathers."""
    if "odds" not in counted:
        return None
    rules = {rule["code"]: rule for rule in result["rules"]}
    between = 1 - ALMOST <= counted["odds"] <= ALMOST
    return OddsShown(
        share=share_words(counted["odds"]),
        error=f"{max(counted['odds_error'], 0.01):.0%}" if between else "",
        rules=[_rule(rules[row["code"]], row["odds"]) for row in counted["odds_by_rule"]],
        left_out=[rules[code]["label"] for code in counted["odds_left_out"]],
    )


def _rule(rule: dict[str, Any], odds: float) -> RuleOdds:
    is_minimum = None if rule["limit"] is None else rule["group"].endswith("True")
    return RuleOdds(rule["label"], rule["limit"], rule["suffix"], is_minimum, share_words(odds))
