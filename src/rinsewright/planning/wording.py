"""Answers as text for a person in a terminal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


def _number(value: float | None, digits: int = 3) -> str:
    if value is None:
        return "not known"
    if value == 0.0:
        return "0"
    text = f"{value:.{digits}g}"
    return f"{float(text):,.0f}" if abs(value) >= 100.0 else text


def _rows(rows: list[tuple[str, str]]) -> str:
    width = max(len(name) for name, _ in rows)
    return "\n".join(f"  {name:<{width}}  {value}" for name, value in rows)


def element_text(answer: Mapping[str, Any]) -> str:
    """Permeances of an element."""
    return _rows(
        [
            ("water permeance at 25 °C", f"{answer['water_permeance_l_m2_h_bar']:.3f} L/(m² h bar)"),
            ("NaCl permeance at 25 °C", f"{answer['salt_permeance_l_m2_h']:.4f} L/(m² h)"),
        ]
    )


def water_text(answer: Mapping[str, Any]) -> str:
    """A tap water, in words and numbers."""
    bands = answer["bands"]

    def said(key: str, unit: str, digits: int = 3) -> str:
        text = f"{_number(answer[key], digits)} {unit}".rstrip()
        band = bands.get(key)
        return text + (f" ({_number(band['low'], digits)} to {_number(band['high'], digits)})" if band else "")

    ions = [(name, f"{_number(value)} mg/L") for name, value in answer["ions_mg_l"].items() if value > 0.0]
    indices = [(name, f"{index:+.2f}") for name, index in answer["saturation"].items() if index is not None]
    balance = answer["charge_balance_pct"]
    parts = [
        f"The tap reads {_number(answer['meter_ppm'])} ppm; hardness {_number(answer['hardness_mg_l_caco3'])} mg/L as CaCO3.",
        "",
        _rows(
            [
                ("conductivity at 25 °C", said("conductivity_us_cm", "µS/cm")),
                ("meter", said("meter_ppm", "ppm")),
                ("hardness", said("hardness_mg_l_caco3", "mg/L as CaCO3")),
                ("alkalinity", said("alkalinity_mg_l_caco3", "mg/L as CaCO3")),
                ("pH", said("ph", "")),
                ("carbon dioxide", said("co2_mg_l", "mg/L")),
                ("dissolved in all", said("tds_mg_l", "mg/L")),
                ("left on drying", said("residue_mg_l", "mg/L")),
                ("osmotic pressure", said("osmotic_bar", "bar")),
                ("charge balance as given", "not known" if balance is None else f"{balance:+.1f} %"),
            ]
        ),
        "",
        "Ions (HCO3: alkalinity)",
        _rows(ions),
    ]
    if indices:
        parts += ["", "Saturation indices (0: just saturated)", _rows(indices)]
    if answer["notes"]:
        parts += ["", "Notes", *(f"  {note}" for note in answer["notes"])]
    return "\n".join(parts)


def solve_text(answer: Mapping[str, Any]) -> str:
    """A working state."""
    feed, product, drain = answer["feed"], answer["product"], answer["drain"]
    rejection = answer["rejection"]
    lines = [
        f"It makes {_number(product['flow_l_min'])} L/min at {_number(product['meter_ppm'], 2)} ppm before the resin; "
        f"{_number(drain['flow_l_min'])} L/min go to drain."
        if answer["elements"]
        else f"It passes {_number(product['flow_l_min'])} L/min through the resin.",
        "",
        _rows(
            [
                ("from the tap", f"{_number(feed['flow_l_min'])} L/min, {_number(feed['meter_ppm'])} ppm, pH {feed['ph']:.2f}"),
                ("at the membranes", f"{_number(feed['membrane_bar'])} bar"),
                ("product", f"{_number(product['flow_l_min'])} L/min, {_number(product['conductivity_us_cm'])} µS/cm, "
                            f"{_number(product['residue_mg_l'], 2)} mg/L on drying, pH {product['ph']:.2f}"),
                ("back pressure", f"{_number(product['back_pressure_bar'])} bar"),
                ("delivered, resin fresh", f"{_number(answer['delivered']['meter_ppm'], 2)} ppm"),
                ("drain", f"{_number(drain['flow_l_min'])} L/min at {_number(drain['pressure_bar'])} bar"),
                ("share that becomes product", f"{100 * answer['recovery']:.0f} %"),
                ("dissolved matter kept back", "not known" if rejection is None else f"{100 * rejection:.1f} %"),
            ]
        ),
    ]  # fmt: skip
    for number, row in enumerate(answer["elements"], 1):
        lines.append(
            f"  membrane {number}: {_number(row['feed_l_min'])} L/min in, {_number(row['product_l_min'])} L/min through, "
            f"{row['flux_l_m2_h']:.1f} L/(m² h)"
        )
    if answer["notes"]:
        lines += ["", "Notes", *(f"  {note}" for note in answer["notes"])]
    return "\n".join(lines)
