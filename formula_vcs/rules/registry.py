"""The rules there are, by id, in the order in which they judge."""

from __future__ import annotations

from typing import Final

from formula_vcs.rules.accepted import AcceptAbout, AcceptExpired, AcceptUnused
from formula_vcs.rules.amounts.balance import Balance
from formula_vcs.rules.amounts.balance_left import BalanceLeft
from formula_vcs.rules.amounts.bounds import Bounds
from formula_vcs.rules.amounts.open_amount import OpenAmount
from formula_vcs.rules.amounts.packaging import PackagingFits
from formula_vcs.rules.amounts.price_currency import PriceCurrency
from formula_vcs.rules.amounts.total_100 import Total
from formula_vcs.rules.change.guard import GUARDS
from formula_vcs.rules.chemistry.charge_unknown import ChargeUnknown
from formula_vcs.rules.chemistry.emulsion_kind import EmulsionKind
from formula_vcs.rules.chemistry.incompatible import Incompatible
from formula_vcs.rules.chemistry.ph_agrees import PhAgrees
from formula_vcs.rules.chemistry.preserved import (
    AcidRange,
    LittleFreeAcid,
    PreservativePartner,
    PreservativeRange,
    PreservativeWeakened,
    Preserved,
)
from formula_vcs.rules.chemistry.role_empty import RoleEmpty
from formula_vcs.rules.format.composition import CompositionAddsUp
from formula_vcs.rules.format.imitated_verdict import ImitatedVerdict
from formula_vcs.rules.format.merge_stopped import MergeStopped
from formula_vcs.rules.format.mixed_scripts import MixedScripts
from formula_vcs.rules.format.premix_cycle import Cycle
from formula_vcs.rules.format.range_order import Ranges
from formula_vcs.rules.format.reference import PremixReference, Reference
from formula_vcs.rules.format.unreadable import (
    BadId,
    BadQuantity,
    BadValue,
    Conflict,
    DuplicateId,
    LinkOutside,
    MissingValue,
    NotJudged,
    Syntax,
    TooBig,
    UnknownKey,
    Unreadable,
    WrongType,
)
from formula_vcs.rules.law.annex_hint import AnnexHint
from formula_vcs.rules.law.certificate import CertificateExpired
from formula_vcs.rules.law.claim import ClaimFails, ClaimInformation, ClaimProof, ExtractData
from formula_vcs.rules.law.drug_there import OtcDrug
from formula_vcs.rules.law.guessed_name import GuessedName
from formula_vcs.rules.law.house import HouseRule
from formula_vcs.rules.law.label_data import AllergenData, AllergenMargin
from formula_vcs.rules.law.label_order import LabelOrder
from formula_vcs.rules.law.label_words import AskSupplier, LabelWords
from formula_vcs.rules.law.limit import Limit, LimitMargin
from formula_vcs.rules.law.max_use import MaximumUse
from formula_vcs.rules.law.microplastics import Microplastics
from formula_vcs.rules.law.ph_window import PhWindow
from formula_vcs.rules.law.positive_list import PositiveList, PreservativeUnlisted
from formula_vcs.rules.law.product_type import MarketKnown, ProductType
from formula_vcs.rules.law.prohibited import Prohibited
from formula_vcs.rules.law.substance_name import CasNumber, SubstanceCas, SubstanceName
from formula_vcs.rules.law.trace import NitrosamineContent, TraceGrounds
from formula_vcs.rules.law.unstated import Unstated
from formula_vcs.rules.law.us_colour import UsColour
from formula_vcs.rules.law.weak_acids import FreeAcid, PreservativeWindow
from formula_vcs.rules.process.addition_order import ChargeOrder, WetWith
from formula_vcs.rules.process.emulsion_order import EmulsionOrder
from formula_vcs.rules.process.equipment_data import EquipmentData
from formula_vcs.rules.process.equipment_range import EquipmentRange
from formula_vcs.rules.process.handling_unstated import DemandLost, HandlingUnstated
from formula_vcs.rules.process.idle_step import IdleStep
from formula_vcs.rules.process.no_process import NoProcess
from formula_vcs.rules.process.ph_last import PhLast
from formula_vcs.rules.process.ph_step import PhStep
from formula_vcs.rules.process.phases_apart import PhasesApart
from formula_vcs.rules.process.rest import Rest
from formula_vcs.rules.process.set_point import SetPoint
from formula_vcs.rules.process.shear import ShearAtLeast, ShearAtMost
from formula_vcs.rules.process.shear_numbers import ShearNumbers
from formula_vcs.rules.process.step_charges import StepCharges
from formula_vcs.rules.process.step_values import StepValues
from formula_vcs.rules.process.step_vessels import StepVessels
from formula_vcs.rules.process.temperatures import AddBelow, TempAtLeast, TempAtMost
from formula_vcs.rules.process.vacuum import VacuumBoils, VacuumHeld
from formula_vcs.rules.process.vessel_fill import VesselFill
from formula_vcs.rules.records.batch_people import BatchDeviation, BatchEdited, BatchEquipment, BatchPeople
from formula_vcs.rules.records.batch_results import BatchResults, BatchYield
from formula_vcs.rules.records.batch_steps import BatchSteps
from formula_vcs.rules.records.batch_version import BatchApproved, BatchBranch, BatchDates, BatchPassing, BatchVersion
from formula_vcs.rules.records.batch_weighed import BatchTargets, BatchWeighed
from formula_vcs.rules.records.evidence_dates import EvidenceDates, EvidenceExpired, EvidenceRecipe
from formula_vcs.rules.records.evidence_pin import EvidenceCommit, EvidenceHash, EvidenceKind, EvidencePasses
from formula_vcs.rules.records.lot_data import LotCertificate, LotData
from formula_vcs.rules.records.lots_used import BatchLots
from formula_vcs.rules.rule import RecordRule, Rule

# What packs of law and standards speak through: the rules that the horizon looks ahead with.
OF_LAW_TYPES: Final[tuple[type[Rule], ...]] = (
    ProductType, MarketKnown, UsColour, OtcDrug, Prohibited, TraceGrounds, NitrosamineContent, PositiveList,
    PreservativeUnlisted, AnnexHint, Limit, LimitMargin, PhWindow, AllergenData, AllergenMargin,
    LabelOrder, LabelWords, AskSupplier, Microplastics, Unstated, CertificateExpired, ClaimFails, ClaimInformation,
    ExtractData,
)  # fmt: skip
_ALL: Final[tuple[type[Rule], ...]] = (
    Syntax, Unreadable, TooBig, LinkOutside, Conflict, MergeStopped, DuplicateId, NotJudged,
    UnknownKey, MissingValue, WrongType, BadValue, BadQuantity, BadId,
    Reference, PremixReference, Cycle,
    Total, Balance, BalanceLeft, Bounds, OpenAmount, PackagingFits, CompositionAddsUp, Ranges,
    NoProcess, StepCharges, StepVessels, StepValues, PhStep, PhLast, ShearAtMost, ShearAtLeast, ShearNumbers,
    TempAtMost, TempAtLeast, AddBelow, ChargeOrder, WetWith, PhasesApart, SetPoint, Rest, IdleStep,
    EquipmentRange, EquipmentData, VesselFill, VacuumHeld, VacuumBoils, EmulsionOrder,
    EmulsionKind, PhAgrees, Preserved, PreservativeWindow, FreeAcid, AcidRange,
    LittleFreeAcid, PreservativeRange, PreservativePartner, PreservativeWeakened, Incompatible, ChargeUnknown,
    RoleEmpty, DemandLost, HandlingUnstated,
    CasNumber, SubstanceCas, SubstanceName, GuessedName, MixedScripts, ImitatedVerdict, HouseRule, *OF_LAW_TYPES,
    MaximumUse,
    EvidenceKind, EvidenceCommit, EvidenceHash, EvidencePasses, EvidenceExpired, EvidenceDates, EvidenceRecipe,
    ClaimProof,
    BatchVersion, BatchPassing, BatchApproved, BatchBranch, BatchDates, BatchTargets, BatchWeighed, BatchLots,
    BatchSteps, BatchResults, BatchYield, BatchPeople, BatchEquipment, BatchDeviation, BatchEdited, LotData,
    LotCertificate, PriceCurrency,
    *GUARDS,
    # these look at what the others have said, so they come last
    AcceptExpired, AcceptAbout, AcceptUnused,
)  # fmt: skip

RULES: Final[dict[str, Rule]] = {rule.id: rule() for rule in _ALL}
OF_RECIPES: Final = tuple(rule for rule in RULES.values() if rule.judges in ("recipe", "both"))
OF_INGREDIENTS: Final = tuple(rule for rule in RULES.values() if rule.judges in ("ingredient", "both"))
PRICES: Final = PriceCurrency()
OF_RECORDS: Final = tuple(rule for rule in RULES.values() if isinstance(rule, RecordRule))
OF_LAW: Final = tuple(RULES[rule.id] for rule in OF_LAW_TYPES)
# Those about the order, the shear and the heat of the steps: none of them asks for the day.
OF_PROCESS: Final = tuple(
    RULES[name]
    for name in (
        "step-charges", "step-vessel", "ph-last", "shear-at-most", "shear-at-least", "shear-numbers", "temp-at-most",
        "temp-at-least", "add-below", "charge-order", "wet-with", "phases-apart", "set-point", "rest", "idle-step",
        "equipment-range", "vessel-fill",
    )
)  # fmt: skip
