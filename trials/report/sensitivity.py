"""What an answer hangs on, with the names that people use."""

from __future__ import annotations

from trials.analysis.findings import ResponseFindings
from trials.report.story import Story
from trials.words.checks import Names, member_name, sensitivity_sentences


def names_of(story: Story, found: ResponseFindings) -> Names:
    """Return how people call the variables, kinds of things and members of a response."""
    members: dict[str, list[str]] = {}
    for point in found.points:
        for path, name in point.groups.items():
            members.setdefault(path, []).append(name)

    def member(kind: str, name: str) -> str:
        return f"{story.group_label(kind)} {member_name(name, members.get(kind, ()))}"

    return Names(story.factor_label, story.group_label, member)


def what_it_hangs_on(story: Story, found: ResponseFindings) -> tuple[str, ...]:
    """Return every single change that would give a variable another answer, one sentence each."""
    if not found.verdicts:
        return ()
    return sensitivity_sentences(found.diagnostics, names_of(story, found))
