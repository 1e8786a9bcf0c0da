"""The fixed words of a certificate: what must be read first, what is meant, what is not claimed.

The text of the limits follows common practice of written opinions; it is a draft and no legal
advice, and every document that shows it says so.
"""

from typing import Literal

Status = Literal["demonstration", "elicited", "measured"]
NOTICES: dict[Status, str] = {
    "demonstration": "Demonstration, no real piece: model, piece and opinion are invented.",
    "elicited": (
        "The numbers of this opinion were never tested on known pieces: its model rests on"
        " elicited judgement."
    ),
    "measured": (
        "The model of this opinion was tested on known pieces; the figures of that test stand in"
        " the trace."
    ),
}
LIMITS = (
    (
        "This document states the signatory's opinion, formed on the stated date from the"
        " observations listed, using the named model. It addresses only the propositions stated."
    ),
    (
        "It is a statistical opinion about manufacture. It is not a guarantee, a valuation, or a"
        " statement about title, export or import status."
    ),
    (
        "Another competent examiner may differ. It may be amended or withdrawn if new evidence"
        " arises; check its status with the identifier given."
    ),
    (
        "It is prepared for the named client for the named purpose; others rely on it at their"
        " own risk. Cultural-property law, appraisal standards and licensed practice come first."
    ),
    (
        "It rests on the findings listed, and on nothing else about the piece. Of how a finding"
        " was made it says what stands beside it, no more; of tests that are not listed, nothing."
    ),
    (
        "It says how and when a piece was made, never why, and nothing of an individual hand"
        " beyond the evidence."
    ),
)
REVIEW = (
    "These limits are a draft, not legal advice. Have a local lawyer review them before a"
    " certificate is handed out."
)
SHOWN_BY_SIGNATURE = (
    "The signature shows who signed and that nothing was changed since. It does not show that"
    " the attribution is right."
)
TIME_CLAIMED = "The time of signing is the signer's own claim."
DEFINITIONS = {
    "prior": "The probability before the findings were weighed, as the model or the client has it.",
    "posterior": "The probability after the findings; it holds only with the prior beside it.",
    "likelihood ratio": (
        "How many times better one proposition foretells the findings than the other does. It is"
        " not the odds of the proposition."
    ),
    "ban": "The unit of weight of evidence: one ban makes odds ten times better or worse.",
    "in turn": "What a finding adds after those before it; these add up to the whole move.",
    "left out": "What would be lost without the finding, all others standing.",
    "not visible": "Something was in the way; that is a finding of its own.",
    "not examined": "Nobody looked; it was not weighed.",
    "workshop, period, mould": (
        "Attributions to a state of the model, by the criteria of the model only; no hand, maker"
        " or date beyond them is meant."
    ),
}
INFERENCE = "exact inference in a Bayesian network; only intervals and typicality are drawn"
