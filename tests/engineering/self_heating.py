"""Invented pours that heat themselves, their truth known, for the tests of the correction by grout temperature."""

import math
from dataclasses import dataclass, replace

import numpy as np

from groutjobs.engineering.checks import Floats
from groutjobs.engineering.cure import EPOXY_CLOCK, CureClock, hours_until
from groutjobs.engineering.cure_belief import LOG_RATE_SD
from groutjobs.engineering.exotherm import AirAround, Placements, curing_temperatures
from groutjobs.engineering.grout_correction import LINK_LOG_SD, PourSetting, product_kinetics
from groutjobs.engineering.layers import Layers
from groutjobs.engineering.materials import concrete, grout, steel
from tests.engineering.cures import PLAIN

CLOCK = replace(EPOXY_CLOCK, hottest_c=45.0)
NEEDED_H = 48.0
HOURS = 190


def layers(grout_mm: float = 50.0) -> Layers:
    return Layers(
        concrete=concrete(), concrete_mm=1000.0, plate=steel(), plate_mm=40.0, grout=grout("epoxy"), grout_mm=grout_mm
    )


def setting(grout_mm: float = 50.0, temp_c: float = 20.0) -> PourSetting:
    return PourSetting(
        layers=layers(grout_mm), placed_c=temp_c + 2, foundation_c=temp_c, plate_c=temp_c, film_w_m2k=8.0,
        model_sd_k=0.7, start_sd_h=0.3,
    )  # fmt: skip


KINETICS = product_kinetics(PLAIN.curve, PLAIN.activation_kj_mol, CLOCK)


@dataclass(frozen=True)
class SelfHeating:
    """One pour: its rate against the data sheet, its grout, its readings, and the air as it was read."""

    log_rate: float
    clock: CureClock
    at_h: Floats
    true_c: Floats
    read_c: Floats
    air_c: Floats

    def ready_h(self, log_rate: float) -> float:
        """When the grout is as ripe as its data sheet after NEEDED_H, if it cures at this rate."""
        found = hours_until(NEEDED_H / math.exp(log_rate), self.at_h, self.true_c, self.clock)
        assert found is not None
        return found


def lasting_k(random: np.random.Generator, shape: tuple[int, ...]) -> Floats:
    """What no model follows: errors of 0.7 K that last for four hours."""
    errors, kept = random.normal(0, 0.7, shape), math.exp(-1 / 4)
    for hour in range(1, shape[1]):
        errors[:, hour] = kept * errors[:, hour - 1] + math.sqrt(1 - kept**2) * errors[:, hour]
    return errors


def pours(
    count: int, seed: int, *, grout_mm: float = 50.0, link_log_sd: float = LINK_LOG_SD, temp_c: float = 20.0
) -> list[SelfHeating]:
    """Pours whose rate, link, binder, film, foundation, probe and hour of mixing differ from what is assumed."""
    random = np.random.default_rng(seed)
    start = setting(grout_mm, temp_c)
    log_rates = np.clip(random.normal(0, LOG_RATE_SD, count), -0.7, 0.7)
    links = random.normal(0, link_log_sd, count) if link_log_sd else np.zeros(count)
    foundation_c = start.foundation_c + random.normal(0, 1.5, count)
    at_h = np.arange(HOURS + 1.0)
    swing_k = random.uniform(0, 4, count)[:, None] * np.sin(2 * math.pi * (at_h + random.uniform(0, 24)) / 24)
    air_c = temp_c + random.normal(0, 2, count)[:, None] + swing_k
    film = start.film_w_m2k * np.exp(random.normal(0, 0.35, count))[:, None] * np.ones_like(air_c)
    run = curing_temperatures(
        start.layers,
        KINETICS,
        Placements(
            placed_c=np.full(count, start.placed_c), foundation_c=foundation_c, plate_c=foundation_c + 0.5,
            binder_ratio=0.13 * np.exp(random.uniform(-0.4, 0.4, count)), pace_ratio=np.exp(log_rates + links),
        ),
        AirAround(air_c=air_c, film_w_m2k=film),
        steps_per_hour=30,
    )  # fmt: skip
    probe = random.uniform(-0.8, 0.8, count)[:, None]
    true_c = (run.hottest_c + run.coldest_c) / 2 + probe * (run.hottest_c - run.coldest_c) / 2
    late_h = random.normal(0, start.start_sd_h, count)
    shifted_c = np.array([np.interp(at_h + late, at_h, row) for row, late in zip(true_c, late_h, strict=True)])
    read_c = shifted_c + lasting_k(random, shifted_c.shape) + random.normal(0, 0.4, true_c.shape)
    return [SelfHeating(float(log_rates[i]), CLOCK, at_h, shifted_c[i], read_c[i], air_c[i]) for i in range(count)]
