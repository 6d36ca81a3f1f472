"""Sets that only the bench measures on, made with the parts of the demo's generator; and the demo's own."""

from __future__ import annotations

from demo.generator.rooms import workshop
from tests.bench.accuracy.rooms import classroom, kitchen, lab, radio

__all__ = ["BUILD"]

#: What builds each set, by name.
BUILD = {
    "classroom": classroom.build,
    "kitchen": kitchen.build,
    "lab": lab.build,
    "radio": radio.build,
    "workshop": workshop.build,
}
