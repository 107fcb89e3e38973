"""What was found and made at the database of the settings, as facts and as sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypedDict

from monitor import words

if TYPE_CHECKING:
    from monitor.addresses import Database
    from monitor.store.influx_setup import Found, Proof


class StepShape(TypedDict):
    """One thing that has to be at the server. `there` is whether it was before, `made` whether it was made now."""

    what: str
    there: bool
    made: bool


class SetUpShape(TypedDict):
    """`vermistat database set-up`. `version` is empty when the server does not say; `keeps_seconds` is how long it keeps
    what is written, 0 for ever, null when that is not known. `proven` is whether a test reading was read back as it was
    written, and `trial_removed` whether it could be removed; both are null while nothing was done.
    """

    url: str
    bucket: str
    version: str
    steps: list[StepShape]
    keeps_seconds: int | None
    done: bool
    proven: bool | None
    trial_removed: bool | None


def set_up_facts(
    database: Database, before: Found, *, after: Found | None = None, proof: Proof | None = None
) -> SetUpShape:
    """The facts of a set-up, or of what it would do."""
    newest = after or before
    there = {step.what: step.there for step in newest.steps}
    return {
        "url": database.url,
        "bucket": database.bucket,
        "version": newest.version,
        "steps": [
            {"what": step.what, "there": step.there, "made": not step.there and there.get(step.what, False)}
            for step in before.steps
        ],
        "keeps_seconds": newest.keeps,
        "done": proof is not None,
        "proven": True if proof else None,
        "trial_removed": proof.removed if proof else None,
    }


def plan_text(facts: SetUpShape) -> str:
    """What will be done, before it is."""
    return "\n".join(
        [
            _server(facts),
            *(
                f"  {step['what']}: {'there already' if step['there'] else 'will be made'}"
                for step in facts["steps"]
            ),
            _kept(facts),
            "  Then one test reading is written, read back and removed.",
        ]
    )


def set_up_text(facts: SetUpShape) -> str:
    """What was done."""
    if not facts["done"]:
        return f"{plan_text(facts)}\nNothing was done. `vermistat database set-up --yes` does it without asking."
    left = (
        "and removed again"
        if facts["trial_removed"]
        else "it could not be removed, and stays under the site `vermistat set-up`, which nothing reads"
    )
    return "\n".join(
        [
            _server(facts),
            *(f"  {step['what']}: {'made' if step['made'] else 'was there'}" for step in facts["steps"]),
            _kept(facts),
            f"  A test reading was written, read back as it was written, {left}.",
            "Readings go on to it as soon as `vermistat run` is started with these settings.",
        ]
    )


def _server(facts: SetUpShape) -> str:
    version = f", version {facts['version']}" if facts["version"] else ", which does not say its version"
    return f"The database at {facts['url']}{version}:"


def _kept(facts: SetUpShape) -> str:
    seconds = facts["keeps_seconds"]
    if seconds is None:
        return f"  {facts['bucket']} is made by the server itself, which alone knows how long it keeps what is written."
    if seconds == 0:
        return "  What is written stays for ever."
    return (
        f"  Attention: it removes what is older than {words.duration(seconds * 1000)}, and so the history of your bins."
        " Have it keep everything, or name another bucket."
    )
