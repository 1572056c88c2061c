"""The job document: what a builder states about one instrument, read once into frozen values."""

from scribeline.job.body import Bevel, Body, OutlineStatement, Top
from scribeline.job.bridges import Bridge, Loading, PlateBridge, plate_screw
from scribeline.job.cuts import (
    ControlStatement,
    HoleStatement,
    NeckBolts,
    NeckInserts,
    NeckScrews,
    PocketStatement,
)
from scribeline.job.document import (
    AsBuilt,
    BitKind,
    BitOwned,
    Bits,
    Document,
    Ferrules,
    TwelfthMark,
)
from scribeline.job.done import (
    LEAST_REASON,
    LONGEST_REASON,
    AskRead,
    Cut,
    CutBit,
    CutStep,
    Done,
    GateRead,
    MadeHole,
    Measurement,
    Override,
    made_hole,
)
from scribeline.job.edge import Jack, StrapButton
from scribeline.job.editing import Stated, arranged, remove_value, set_value
from scribeline.job.faults import Fault, JobError
from scribeline.job.head import Head, StringTree, clear_of_tuners, post_along
from scribeline.job.learnt import ENDING, learnt_from, learnt_in
from scribeline.job.limits import OwnLimit
from scribeline.job.moving import Spot, StatedPlace, moved, stated_place
from scribeline.job.neck_blank import NeckBlank, SectionName
from scribeline.job.outline import Outline, OutlineError
from scribeline.job.part import Part, WoodScrew
from scribeline.job.parts_book import SIZES_ALONE, parts_book, shelf_names
from scribeline.job.reading import Job, JobFile, JobTables, feature_id, parse_job, read_job
from scribeline.job.record import EMPTY, Record, dated_ahead, read_record, with_tables, without_tables
from scribeline.job.records import (
    KeptRecord,
    Measured,
    Records,
    parse_records,
    read_records,
    recorded,
    struck_through,
)
from scribeline.job.renaming import rename_pocket
from scribeline.job.shop_tests import (
    NewTest,
    ShopTests,
    only_grown,
    parse_shop_tests,
    read_shop_tests,
    shop_accuracies,
    strike_test,
    with_test,
)
from scribeline.job.starter import Instrument, plain_name, starter_job, with_string_ends
from scribeline.job.table import Way
from scribeline.job.toml_faults import toml_fault
from scribeline.job.toml_text import FileText, file_text, toml_values
from scribeline.job.tunnels import EDGE, FACES, UNDER_PLATE, GroundWire, TunnelStatement
from scribeline.job.values import Dimension, standard_deviation, widest_measured

__all__ = [
    "EDGE",
    "EMPTY",
    "ENDING",
    "FACES",
    "LEAST_REASON",
    "LONGEST_REASON",
    "SIZES_ALONE",
    "UNDER_PLATE",
    "AsBuilt",
    "AskRead",
    "Bevel",
    "BitKind",
    "BitOwned",
    "Bits",
    "Body",
    "Bridge",
    "ControlStatement",
    "Cut",
    "CutBit",
    "CutStep",
    "Dimension",
    "Document",
    "Done",
    "Fault",
    "Ferrules",
    "FileText",
    "GateRead",
    "GroundWire",
    "Head",
    "HoleStatement",
    "Instrument",
    "Jack",
    "Job",
    "JobError",
    "JobFile",
    "JobTables",
    "KeptRecord",
    "Loading",
    "MadeHole",
    "Measured",
    "Measurement",
    "NeckBlank",
    "NeckBolts",
    "NeckInserts",
    "NeckScrews",
    "NewTest",
    "Outline",
    "OutlineError",
    "OutlineStatement",
    "Override",
    "OwnLimit",
    "Part",
    "PlateBridge",
    "PocketStatement",
    "Record",
    "Records",
    "SectionName",
    "ShopTests",
    "Spot",
    "Stated",
    "StatedPlace",
    "StrapButton",
    "StringTree",
    "Top",
    "TunnelStatement",
    "TwelfthMark",
    "Way",
    "WoodScrew",
    "arranged",
    "clear_of_tuners",
    "dated_ahead",
    "feature_id",
    "file_text",
    "learnt_from",
    "learnt_in",
    "made_hole",
    "moved",
    "only_grown",
    "parse_job",
    "parse_records",
    "parse_shop_tests",
    "parts_book",
    "plain_name",
    "plate_screw",
    "post_along",
    "read_job",
    "read_record",
    "read_records",
    "read_shop_tests",
    "recorded",
    "remove_value",
    "rename_pocket",
    "set_value",
    "shelf_names",
    "shop_accuracies",
    "standard_deviation",
    "starter_job",
    "stated_place",
    "strike_test",
    "struck_through",
    "toml_fault",
    "toml_values",
    "widest_measured",
    "with_string_ends",
    "with_tables",
    "with_test",
    "without_tables",
]
