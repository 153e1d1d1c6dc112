"""Prints made by hand for tests: a few colours with shares, nothing photographed."""

import importlib.util
import sys
from itertools import pairwise
from pathlib import Path
from types import ModuleType

import numpy as np

from sequencer.models import Lab, Neighbours, PaletteColour, Print, Sequence

Colour = tuple[Lab, float]


def cloth(name: str, *colours: Colour, photo: str = "", uncertainty: float = 2.0) -> Print:
    shares = np.array([share for _, share in colours])
    shares = shares / shares.sum()
    mean = shares @ np.array([lab for lab, _ in colours])
    palette = tuple(
        PaletteColour(tuple(map(float, lab)), float(share))
        for (lab, _), share in zip(colours, shares, strict=True)
    )
    return Print(
        id=name, name=f"{name} cloth", photo=photo or f"{name}.jpg", outline=(),
        mean_lab=tuple(float(x) for x in mean), palette=palette, uncertainty=uncertainty,
    )


def plain_cloth(name: str, *lab: float, **more: object) -> Print:
    return cloth(name, (tuple(lab), 1.0), **more)


def random_cloths(count: int, colours: int, seed: int) -> list[Print]:
    random = np.random.default_rng(seed)
    made = []
    for k in range(count):
        labs = np.column_stack([random.uniform(20, 90, colours),
                                random.uniform(-50, 50, (colours, 2))])
        shares = random.dirichlet(np.ones(colours))
        made.append(cloth(f"p{k}", *zip(map(tuple, labs.tolist()), shares.tolist(), strict=True)))
    return made


def sequence_of(graph, order, loop: bool = False) -> Sequence:
    """The order as a Sequence, its neighbours' figures taken from the graph."""
    pairs = list(pairwise(order)) + ([(order[-1], order[0])] if loop else [])
    neighbours = []
    for a, b in pairs:
        edge = graph.edges[a, b]
        neighbours.append(Neighbours(
            a, b, edge["cost"], edge["delta_e"], graph.nodes[b]["value"] - graph.nodes[a]["value"],
            edge["shared"], edge["verdict"]))
    costs = [pair.cost for pair in neighbours]
    total = sum(cost * cost for cost in costs)
    return Sequence(
        order=tuple(order), loop=loop, aim="even", total=total, worst=max(costs, default=0.0),
        status="optimal", lower_bound=total, gap=0.0, neighbours=tuple(neighbours),
        left_out=tuple(name for name in graph if name not in order))


def benchmark(name: str) -> ModuleType:
    """A script of benchmarks/order as a module."""
    folder = Path(__file__).parents[2] / "benchmarks" / "order"
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))
    spec = importlib.util.spec_from_file_location(f"benchmark_{name}", folder / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module
