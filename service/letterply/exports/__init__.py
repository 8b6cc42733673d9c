"""Values in, files out.

In: stacks, findings, sheets, plans, proofs, orders. Out: SVG and DXF cut files, pictures, JSON
documents, PDF papers, archives; the same bytes for the same values.
"""

from letterply.exports.archive import stream_zip
from letterply.exports.cutfiles.dxf import layer_dxf, sheet_dxf, stock_dxf
from letterply.exports.cutfiles.svg import layer_svg, sheet_svg, stock_svg
from letterply.exports.documents.film import film
from letterply.exports.documents.piece import piece_document
from letterply.exports.documents.plan import plan_document, proof_document, time_words
from letterply.exports.documents.preview import preview_document
from letterply.exports.documents.stack import findings_document, repair_document, stack_document
from letterply.exports.documents.survey import comparison_csv, survey_csv, survey_document
from letterply.exports.documents.values import Document, plain, to_json
from letterply.exports.papers.job_sheet import (
    JobLine,
    JobProgram,
    JobSet,
    JobSheet,
    JobStock,
    Overview,
    glue_up_pdf,
    job_sheet_pdf,
)
from letterply.exports.papers.labels import Label, Pick, labels_pdf
from letterply.exports.papers.offer import (
    OfferPaper,
    OfferPiece,
    SaidOnPaper,
    job_sheet_with_replies,
    offer_pdf,
)
from letterply.exports.papers.piece import piece_pdf
from letterply.exports.papers.templates import Template, templates_pdf
from letterply.exports.pictures.artwork import artwork_picture
from letterply.exports.pictures.carved import carved_svg, difference_svg
from letterply.exports.pictures.cutter_sets import cutter_sets_picture, is_worth_showing
from letterply.exports.pictures.findings import findings_picture
from letterply.exports.pictures.font import font_picture, region_path
from letterply.exports.pictures.letters import BoxedLetter, letters_picture
from letterply.exports.pictures.piece import piece_picture
from letterply.exports.pictures.proof import proof_svg
from letterply.exports.pictures.repairs import repair_picture
from letterply.exports.pictures.sheet import sheet_pictures
from letterply.exports.pictures.sizes import ENTRY_PX, LINE_PX, RESULT_PX, TABLE_PX
from letterply.exports.pictures.stack import png_within, stack_picture
from letterply.exports.pictures.stock import stock_png
from letterply.exports.pictures.survey import survey_picture
from letterply.exports.pictures.uncut import uncut_picture
from letterply.exports.primitives.captions import (
    INK,
    QUIET,
    caption,
    caption_within,
    svg_close,
    svg_open,
)
from letterply.exports.primitives.contact import side_by_side
from letterply.exports.primitives.label_faces import LabelFaces
from letterply.exports.primitives.markup import text
from letterply.exports.primitives.numbers import LEAST_ROUND_MM

__all__ = [
    "ENTRY_PX",
    "INK",
    "LEAST_ROUND_MM",
    "LINE_PX",
    "QUIET",
    "RESULT_PX",
    "TABLE_PX",
    "BoxedLetter",
    "Document",
    "JobLine",
    "JobProgram",
    "JobSet",
    "JobSheet",
    "JobStock",
    "Label",
    "LabelFaces",
    "OfferPaper",
    "OfferPiece",
    "Overview",
    "Pick",
    "SaidOnPaper",
    "Template",
    "artwork_picture",
    "caption",
    "caption_within",
    "carved_svg",
    "comparison_csv",
    "cutter_sets_picture",
    "difference_svg",
    "film",
    "findings_document",
    "findings_picture",
    "font_picture",
    "glue_up_pdf",
    "is_worth_showing",
    "job_sheet_pdf",
    "job_sheet_with_replies",
    "labels_pdf",
    "layer_dxf",
    "layer_svg",
    "letters_picture",
    "offer_pdf",
    "piece_document",
    "piece_pdf",
    "piece_picture",
    "plain",
    "plan_document",
    "png_within",
    "preview_document",
    "proof_document",
    "proof_svg",
    "region_path",
    "repair_document",
    "repair_picture",
    "sheet_dxf",
    "sheet_pictures",
    "sheet_svg",
    "side_by_side",
    "stack_document",
    "stack_picture",
    "stock_dxf",
    "stock_png",
    "stock_svg",
    "stream_zip",
    "survey_csv",
    "survey_document",
    "survey_picture",
    "svg_close",
    "svg_open",
    "templates_pdf",
    "text",
    "time_words",
    "to_json",
    "uncut_picture",
]
