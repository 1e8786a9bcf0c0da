"""Two sides of a dispute brought to where they can be compared: one model's words, one question."""

import numpy as np

from claywit.errors import EvidenceError, ImpossibleEvidence
from claywit.evidence.askable import check_propositions, check_question
from claywit.evidence.binding import bind
from claywit.evidence.parties import Party
from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece, log_total, refuse_impossible
from claywit.model.propositions import Pair, proposition, text_of
from claywit.model.schema import Model
from claywit.reasoning.explanation import leading_pair, refuse_excluded
from claywit.reasoning.mixtures import Setting


def setting_of(
    model: Model, parties: tuple[Party, Party], question: str, pair: Pair | None
) -> Setting:
    """Return what both sides say in the words of *model*, fit to be asked the same.

    Raises:
        EvidenceError: a file does not fit the model, or has read what is asked.
    """
    sides = [bind(party.evidence, model, party.place) for party in parties]
    for side, party in zip(sides, parties, strict=True):
        seen = {finding.node: finding for finding in side.findings}
        try:
            check_question(question, model, seen)
            if pair:
                told = [proposition(text_of(stated), model) for stated in pair]
                check_propositions(told[0], told[1], {**seen, **side.not_applicable}, model)
        except ValueError as wrong:
            raise EvidenceError(f"{party.place(('findings',))}: {wrong}") from None
    network = compile_network(model, sides[0].priors)
    same = sides[0].priors == sides[1].priors
    networks = network, network if same else compile_network(model, sides[1].priors)
    return Setting(networks, (sides[0].findings, sides[1].findings))


def refuse_alone(setting: Setting, side: int, question: str, pair: Pair | None, name: str) -> None:
    """Refuse a side that says nothing possible, or that has nothing to weigh, by its *name*.

    Raises:
        EvidenceError: as said; ImpossibleEvidence where findings cannot stand together.
        ModelError: the network is too entangled to be held in memory.
    """
    about = [node for stated in pair or () for node in stated]
    roots = list(dict.fromkeys([question, *about]))
    piece = compile_piece(setting.networks[side], setting.findings[side], roots)
    none_then_all = np.repeat([[False], [True]], len(piece.findings), axis=1)
    log_joint = piece.log_joint(none_then_all)
    try:
        refuse_impossible(piece, float(log_total(log_joint)[1]))
        if pair:
            refuse_excluded(pair, [float(log_total(log_joint, piece.holds(p))[0]) for p in pair])
        else:
            leading_pair(log_joint, piece, question)
    except ImpossibleEvidence as wrong:
        raise ImpossibleEvidence(f"{name}: {wrong}", wrong.findings) from None
    except EvidenceError as wrong:
        raise EvidenceError(f"{name}: {wrong}") from None
