"""What a check found: a code for a machine and a sentence for a person."""

from dataclasses import dataclass
from typing import Literal

# For what any signed file is refused, in the order in which it is looked for.
Unsound = Literal[
    "too_large",
    "too_deep",
    "not_json",
    "duplicate_key",
    "not_canonical",
    "other_document",
    "other_format",
    "no_proof",
    "other_suite",
    "missing_field",
    "unknown_field",
    "schema",
    "other_context",
    "other_method",
    "weak_key",
    "signature_form",
    "tampered",
    "other_id",
    "other_time",
]
# What can be wrong with a certificate whose signature is good.
Wrong = Literal[
    "wrong_key",
    "from_the_future",
    "expired",
    "model_differs",
    "older_model",
    "findings_differ",
    "data_differ",
    "not_as_shipped",
    "look_alike",
    "other_page",
    "question_differs",
    "incomplete",
    "numbers_do_not_follow",
    "draws_differ",
    "words_differ",
    "revoked",
    "superseded",
    "key_revoked",
    "status_wrong_key",
    "status_from_the_future",
    "status_stale",
    "status_cut",
]


@dataclass(frozen=True)
class Failure:
    """One thing that is wrong; *code* names its kind and never changes its meaning.

    The code is one of `Unsound` or `Wrong`, or `status_` and one of `Unsound`.
    """

    code: str
    sentence: str


class Refused(Exception):  # noqa: N818 - it names what happened, and is no mistake of a user
    """Raised inside a check as soon as going on would make no sense."""

    def __init__(self, code: Unsound, sentence: str) -> None:
        """Keep the *code* and the *sentence* of the failure."""
        super().__init__(sentence)
        self.failure = Failure(code, sentence)

    def of_status(self) -> Failure:
        """Return the failure as that of a status list, which is not the certificate's own."""
        return Failure(f"status_{self.failure.code}", self.failure.sentence)
