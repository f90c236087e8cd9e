"""How far a long compile is, as a bar on the error stream of a terminal."""

from __future__ import annotations

from rich.console import Console
from rich.progress import Progress as Bar
from rich.progress import TaskID

from advisor.knowledge.solving import Progress, silent


def progress_bar() -> Progress:
    """Give a report of progress; nothing is shown where nobody sees it, or where all is done at once."""
    console = Console(stderr=True)
    if not console.is_terminal:
        return silent
    bar = Bar(console=console, transient=True)
    tasks: dict[str, TaskID] = {}

    def show(stage: str, done: int, total: int) -> None:
        """Draw one stage until it is done."""
        if done < total:
            bar.start()
            if stage not in tasks:
                tasks[stage] = bar.add_task(stage, total=total)
            bar.update(tasks[stage], completed=done)
        else:
            bar.stop()

    return show
