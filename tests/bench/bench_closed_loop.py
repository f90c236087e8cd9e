"""The advice leads a virtual technician to the fault, for every fault of every shipped circuit; some minutes.

cd tests && PYTHONPATH=..:. python -m bench.bench_closed_loop
"""

from __future__ import annotations

import numpy as np
from bench.setting import machine
from closed_loop import faults, run, told

import advisor
from advisor.knowledge.shipped import shipped_circuits


def main() -> None:
    """Print how every circuit went."""
    for circuit in shipped_circuits():
        model = advisor.load(circuit)
        print(*told(circuit, run(model, faults(model), np.random.default_rng(1))), sep="\n", flush=True)
    print(machine())


if __name__ == "__main__":
    main()
