"""What a run through the window goes by, and what it has seen."""

from __future__ import annotations

import time
from dataclasses import dataclass, field

from reading import DriveError
from window import Window


@dataclass
class Journey:
    """The plan, the window, and the steps behind with their pictures."""

    plan: dict
    window: Window
    steps: list[dict] = field(default_factory=list)
    begun: float = field(default_factory=time.monotonic)

    def note(self, name: str, shows: str, aside: bool = True) -> None:
        """Keep the picture of a step that has been checked. aside : the mouse is taken out of the way first."""
        if aside:
            self.window.point_at_view()
        picture = self.window.keep_picture(f"{len(self.steps) + 1:02d}-{name}")
        seconds = round(time.monotonic() - self.begun, 1)
        self.steps.append({"picture": picture.name, "shows": shows, "seconds": seconds})
        print(f"{seconds:6.1f} s  {picture.name}  {shows}", flush=True)

    def hold_against_page(self) -> None:
        """The tutorial's pictures are those that its page shows, in the same order."""
        taken, shown = [step["picture"] for step in self.steps], self.plan.get("page")
        if shown is not None and taken != shown:
            raise DriveError(f"docs/tutorial.md shows {shown}, but the steps are {taken}")
