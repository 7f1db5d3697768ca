"""How much of a product gives how much nitrogen: the label, the area, the tank, the injector.

Masses in g, volumes in L or mL, areas in m². A label tells nitrogen as the element, but phosphorus and potassium as if they
were oxides; that is the practice of fertilizer labels (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from collector.crop.limits import inside

# Standard atomic masses, IUPAC, from memory: P 30.974, K 39.098, O 15.999.
P_OF_P2O5 = 2 * 30.974 / (2 * 30.974 + 5 * 15.999)
K_OF_K2O = 2 * 39.098 / (2 * 39.098 + 15.999)


@dataclass(frozen=True, slots=True)
class Label:
    """What stands on a product: mass percent of N, P2O5 and K2O, and of a liquid the density [kg/L].

    Raises:
        ValueError: a percentage below 0, more than 100 in all, or a density outside 0.5 to 3 kg/L.
    """

    n_pct: float
    p2o5_pct: float = 0.0
    k2o_pct: float = 0.0
    density_kg_l: float | None = None

    def __post_init__(self) -> None:
        for name in ("n_pct", "p2o5_pct", "k2o_pct"):
            inside(name, getattr(self, name), 0.0, 100.0, "% of mass")
        inside("n_pct + p2o5_pct + k2o_pct", self.n_pct + self.p2o5_pct + self.k2o_pct, 0.0, 100.0, "% of mass")
        if self.density_kg_l is not None:
            inside("density_kg_l", self.density_kg_l, 0.5, 3.0, "kg/L")

    @property
    def p_pct(self) -> float:
        """Phosphorus as the element [% of mass]."""
        return self.p2o5_pct * P_OF_P2O5

    @property
    def k_pct(self) -> float:
        """Potassium as the element [% of mass]."""
        return self.k2o_pct * K_OF_K2O


class Ratio(Enum):
    """The two readings of 1:N on an injector or siphon; of 1:16 they part by 6.25 %.

    University of Georgia Extension B1237, Fertilizer injectors, reads 1:100 as 1 part in 100 parts of mix; a grower
    supply's newsletter (weak) as 1 part to 100 parts of water.
    """

    PART_IN_MIX = 0
    PART_TO_WATER = 1

    def mix_parts(self, n: float) -> float:
        """Parts of mix that hold one part of concentrate [parts].

        Args:
            n: the N of 1:N, more than 1 [parts].

        Raises:
            ValueError: N not more than 1, or above 10,000.

        Source: University of Georgia Extension B1237 for the one reading, common practice, no source, for the other.
        """
        inside("n of 1:n", n, 1.0 + 1e-9, 10_000.0, "parts")
        return n + self.value


def product_g(n_g: float, label: Label) -> float:
    """Product that holds a mass of nitrogen [g].

    Args:
        n_g: nitrogen wanted, not below 0 [g].
        label: of the product.

    Raises:
        ValueError: nitrogen below 0, or a product that has none.

    Source: by definition of mass percent.
    """
    inside("n_g", n_g, 0.0, 1e7, "g")
    return n_g / _nitrogen_share(label)


def product_ml(n_g: float, label: Label) -> float | None:
    """Liquid product that holds a mass of nitrogen [mL]; None where the label tells no density.

    Args:
        n_g: nitrogen wanted, not below 0 [g].
        label: of the product.

    Raises:
        ValueError: nitrogen below 0, or a product that has none.

    Source: by definition.
    """
    mass_g = product_g(n_g, label)
    return None if label.density_kg_l is None else mass_g / label.density_kg_l


def nitrogen_g_m2(product_mass_g: float, label: Label, area_m2: float) -> float:
    """Nitrogen that a mass of product gives to an area [g/m²].

    Args:
        product_mass_g: product given, not below 0 [g].
        label: of the product.
        area_m2: area that it was given to, above 0 [m²].

    Raises:
        ValueError: a mass below 0, or an area not above 0.

    Source: by definition.
    """
    inside("product_mass_g", product_mass_g, 0.0, 1e9, "g")
    inside("area_m2", area_m2, 1e-4, 1e7, "m²")
    return product_mass_g * label.n_pct / 100.0 / area_m2


def product_g_l(n_mg_l: float, label: Label) -> float:
    """Product in each litre of a feed of a given strength [g/L].

    Args:
        n_mg_l: nitrogen in the feed as it reaches the bed; thin as it is, the same number as parts per million [mg/L].
        label: of the product.

    Raises:
        ValueError: a strength outside 0 to 100,000 mg/L, or a product that has no nitrogen.

    Source: by definition of mass percent.
    """
    inside("n_mg_l", n_mg_l, 0.0, 100_000.0, "mg/L")
    return n_mg_l / 1000.0 / _nitrogen_share(label)


@dataclass(frozen=True, slots=True)
class Tank:
    """What to mix and how much comes out of it: product, concentrate and feed, and the strength of each.

    For a can or a sprayer the concentrate is the feed. `n_mg_l` is that of the feed, mg/L the same number as parts per million.
    """

    product_g: float
    concentrate_l: float
    feed_l: float
    n_mg_l: float

    @property
    def product_g_per_l(self) -> float:
        """Product in each litre of concentrate [g/L]."""
        return self.product_g / self.concentrate_l


def tank(
    n_g_m2: float, area_m2: float, label: Label, concentrate_l: float, parts: float = 1.0, ratio: Ratio = Ratio.PART_IN_MIX
) -> Tank:
    """What to mix so that a full tank gives an area its nitrogen [g, L, mg/L].

    Args:
        n_g_m2: nitrogen for each square metre, 0 to 100 [g/m²].
        area_m2: area to feed, above 0 [m²].
        label: of the product.
        concentrate_l: what the tank, can or bucket holds, above 0 [L].
        parts: the N of the injector's 1:N; 1 where there is none and the tank holds the feed itself [parts].
        ratio: how that N is to be read.

    Raises:
        ValueError: a number outside its range, or a product that has no nitrogen.

    Source: by definition.
    """
    inside("n_g_m2", n_g_m2, 0.0, 100.0, "g/m²")
    inside("area_m2", area_m2, 1e-4, 1e7, "m²")
    inside("concentrate_l", concentrate_l, 1e-3, 1e6, "L")
    n_g = n_g_m2 * area_m2
    feed_l = concentrate_l * (ratio.mix_parts(parts) if parts != 1.0 else 1.0)
    return Tank(product_g(n_g, label), concentrate_l, feed_l, 1000.0 * n_g / feed_l)


def concentrate_g_l(n_mg_l: float, label: Label, parts: float, ratio: Ratio) -> float:
    """Product in each litre of an injector's concentrate [g/L].

    Args:
        n_mg_l: nitrogen in the feed as it reaches the bed [mg/L].
        label: of the product.
        parts: the N of the injector's 1:N, more than 1 [parts].
        ratio: how that N is to be read.

    Raises:
        ValueError: a number outside its range, or a product that has no nitrogen.

    Source: University of Georgia Extension B1237, Fertilizer injectors.
    """
    return product_g_l(n_mg_l, label) * ratio.mix_parts(parts)


def _nitrogen_share(label: Label) -> float:
    if not label.n_pct > 0.0:
        raise ValueError(f"the label tells {label.n_pct:g} % N; want a product with nitrogen, more than 0 [% of mass]")
    return label.n_pct / 100.0
