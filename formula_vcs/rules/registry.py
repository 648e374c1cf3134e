"""The rules there are, by id, in the order in which they judge."""

from __future__ import annotations

from typing import Final

from formula_vcs.rules.accepted import AcceptAbout, AcceptExpired, AcceptUnused
from formula_vcs.rules.amounts.packaging import PackagingFits, PriceCurrency
from formula_vcs.rules.amounts.total_100 import Balance, BalanceLeft, Bounds, OpenAmount, Total
from formula_vcs.rules.change.guard import GUARDS
from formula_vcs.rules.chemistry.charge_unknown import ChargeUnknown
from formula_vcs.rules.chemistry.emulsion_kind import EmulsionKind, PhAgrees, RoleEmpty
from formula_vcs.rules.chemistry.incompatible import Incompatible
from formula_vcs.rules.chemistry.preserved import (
    AcidRange,
    LittleFreeAcid,
    PreservativePartner,
    PreservativeRange,
    PreservativeWeakened,
    Preserved,
)
from formula_vcs.rules.format.deceiving_text import ImitatedVerdict, MixedScripts
from formula_vcs.rules.format.reference import Cycle, PremixReference, Reference
from formula_vcs.rules.format.unreadable import (
    ApprovalUnsigned,
    BadId,
    BadQuantity,
    BadValue,
    CompositionAddsUp,
    Conflict,
    DuplicateId,
    LinkOutside,
    MergeStopped,
    MissingValue,
    NotJudged,
    Ranges,
    Syntax,
    TooBig,
    UnknownKey,
    Unreadable,
    WrongType,
)
from formula_vcs.rules.law.allowed_substances import PositiveList, PreservativeUnlisted, Prohibited, UsColour
from formula_vcs.rules.law.claim import CertificateExpired, ClaimFails, ClaimInformation, ClaimProof, ExtractData
from formula_vcs.rules.law.drug_there import OtcDrug
from formula_vcs.rules.law.house import HouseRule
from formula_vcs.rules.law.label import AllergenData, AllergenMargin, AskSupplier, LabelOrder, LabelWords
from formula_vcs.rules.law.limit import Limit, LimitMargin
from formula_vcs.rules.law.max_use import MaximumUse
from formula_vcs.rules.law.ph_window import FreeAcid, PhWindow, PreservativeWindow
from formula_vcs.rules.law.product_type import MarketKnown, ProductType, Unstated
from formula_vcs.rules.law.substance_name import AnnexHint, CasNumber, GuessedName, SubstanceCas, SubstanceName
from formula_vcs.rules.law.trace import Microplastics, NitrosamineContent, TraceGrounds
from formula_vcs.rules.process.addition_order import ChargeOrder, EmulsionOrder, PhasesApart, WetWith
from formula_vcs.rules.process.equipment import EquipmentData, EquipmentRange, SetPoint, VesselFill
from formula_vcs.rules.process.handling_unstated import DemandLost, HandlingUnstated
from formula_vcs.rules.process.shear import ShearAtLeast, ShearAtMost, ShearNumbers
from formula_vcs.rules.process.steps import IdleStep, NoProcess, PhLast, PhStep, StepCharges, StepValues, StepVessels
from formula_vcs.rules.process.temperatures import AddBelow, Rest, TempAtLeast, TempAtMost
from formula_vcs.rules.process.vacuum import VacuumBoils, VacuumHeld
from formula_vcs.rules.records.batch_done import BatchResults, BatchSteps, BatchYield
from formula_vcs.rules.records.batch_people import BatchDeviation, BatchEdited, BatchEquipment, BatchPeople
from formula_vcs.rules.records.batch_version import BatchApproved, BatchBranch, BatchDates, BatchPassing, BatchVersion
from formula_vcs.rules.records.batch_weighed import BatchTargets, BatchWeighed
from formula_vcs.rules.records.evidence import (
    EvidenceCommit,
    EvidenceDates,
    EvidenceExpired,
    EvidenceHash,
    EvidenceKind,
    EvidencePasses,
    EvidenceRecipe,
)
from formula_vcs.rules.records.lots import BatchLots, LotCertificate, LotData
from formula_vcs.rules.rule import RecordRule, Rule

# What packs of law and standards speak through: the rules that the horizon looks ahead with.
OF_LAW_TYPES: Final[tuple[type[Rule], ...]] = (
    ProductType, MarketKnown, UsColour, OtcDrug, Prohibited, TraceGrounds, NitrosamineContent, PositiveList,
    PreservativeUnlisted, AnnexHint, Limit, LimitMargin, PhWindow, AllergenData, AllergenMargin,
    LabelOrder, LabelWords, AskSupplier, Microplastics, Unstated, CertificateExpired, ClaimFails, ClaimInformation,
    ExtractData,
)  # fmt: skip
_ALL: Final[tuple[type[Rule], ...]] = (
    Syntax, Unreadable, TooBig, LinkOutside, Conflict, MergeStopped, DuplicateId, NotJudged, ApprovalUnsigned,
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
