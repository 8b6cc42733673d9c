// Everything that the page says itself, in one place, so that it can be said in another language.
// Findings and remedies come with the words that they are made of (`retell.ts`); what else the service
// says (cautions, summaries of plans and sheets) is passed on as it comes.

import type { Told } from "./retell";

const english = {
  title: "letterply: the bench",
  skip: "To the words",
  views: "What to make", one: "One piece", many: "A whole list", theShop: "The shop",
  units: "Lengths in", millimetres: "mm", inches: "inch",
  light: "Light", lightAuto: "light by the system", lightDay: "day", lightNight: "night",
  away: "The service does not answer. What you typed is kept here, and work goes on when it is back.",
  keyAsked: "This service asks for a key.", key: "Key", keyGive: "Use this key",
  shareLink: "Copy a link to this piece", shared: "The link is copied.",

  words: "The words", wordsHelp: "What the letters say. Everything below follows as you type.",
  makeA: "Make it a", ownKind: "piece of its own", inFont: "lettered in",
  sizedBy: {
    cap_height: ["with capitals", "high"], x_height: ["with small letters", "high"], em: ["with letters of", "from line to line"],
    width: ["the words", "wide"], fit_disc: ["within", "across"],
  } as Record<string, [string, string]>,
  sizes: {
    cap_height: "Height of the capitals", x_height: "Height of the small letters", em: "Height of a line", width: "Width of the words",
    fit_disc: "Across", none: "Height of the capitals",
  } as Record<string, string>,
  asLarge: "as large as there is room", ownHeight: "Set a height", noWords: "without words",
  kinds: "What it is", fonts: "The hand it is lettered in", close: "Done choosing",
  holdsFrom: (size: string) => `holds from ${size}`, neverHolds: "does not hold at any size",
  findHolds: "How small may each of them go?", lookingFonts: "Looking at the fonts …",
  ownFont: "Bring a font of your own", ownFontTaken: (name: string) => `${name} is with the fonts now.`,
  size: "Height of the capitals", sizeShort: "Capitals", smallest: (size: string) => `Smallest that holds: ${size}`,
  goSmallest: (size: string) => `Go to ${size}`,
  askSize: "How large, how small can it be?", sizeWhich: "What is looked for", sizeAsk: "Work it out", sizeAsking: "Trying sizes …",
  sizeQuestions: {
    smallest: "the smallest that holds", sheets: "the largest for the sheets",
    fit: "the largest letters for a box", width: "so wide: does it hold?",
  } as Record<string, string>,
  sizeSheets: (n: number) => (n === 1 ? "one of each material" : `${n} of each material`),
  sizeTake: (size: string) => `Take capitals of ${size}`, sizeTaken: "That is its size now.",

  table: "On the light table", drawing: "Drawing …", drawFailed: "It cannot be drawn like this.",
  notSturdy: "Thin strokes are not made sturdy yet.", roughly: (size: string) => `About ${size}`,
  pictured: (w: string, h: string, t: string, n: number) =>
    `${w} wide, ${h} high, ${t} thick, ${n === 1 ? "one layer" : `${n} layers`}`,
  turn: "Turned", tilt: "Seen from above", apart: "Layers apart", beside: "Beside it",
  besideNothing: "nothing", besideCoin: (size: string) => `a coin (${size})`, besideHand: "a hand", besideDoor: "a door",
  flat: "This browser draws no 3D here; this is the piece from above.",
  dragHint: "Drag to turn.",

  gluing: "Glue-up, from the table upwards", layerNumber: (n: number) => `${n}`,
  lies: "lies on the table", gluedOn: (on: string) => `is glued onto ${on}`,
  material: "Material", thickness: "Thickness", otherThickness: "other …", grow: "Grown by",
  margin: "Margin", plateShape: "Shape", width: "Width", height: "Height", across: "Across",
  joinPieces: "in one piece", strengthen: "thin strokes made sturdy", fillHoles: "small holes filled",
  worked: "Work on it", addWork: "Work to add", noWork: "no work on it", takeOff: "Take off",
  name: "Called", addLayer: "Lay another one on top", removeLayer: "Take this layer away",
  lift: "One higher", lower: "One lower", ofWords: "the words themselves", ofPlate: "a plate round them", plateAlone: "a plate",
  ofDrawing: "a drawing", ofBlank: "a ready-made piece",
  work: {
    holes: "holes", groove_lettering: "the words, carved", scribe_lettering: "the words, scribed",
    through_lettering: "the words, cut through", border: "a line along the edge", recess: "a pocket",
    artwork: "a drawing", slots: "slots", standoffs: "stand-off holes", keyholes: "keyholes",
  } as Record<string, string>,
  shapes: {
    rectangle: "rectangle", rounded: "rounded corners", circle: "circle", oval: "oval", tag: "tag",
    arch: "arch", stadium: "round ends", notched: "notched corners", polygon: "polygon",
    follow: "follows the words",
  } as Record<string, string>,
  drop: "Bring a drawing (SVG, or a picture to trace)", dropHelp: "Choose it here or drop it anywhere on the page.",
  leftOut: "Not taken:", besideLeft: "Put it left of the words", besideRight: "Put it right of the words",
  onTop: "Scribe it into the lowest layer", drawingFor: (name: string) => `The drawing ${name}`,
  pictureFor: (name: string) => `The picture ${name}`, asBrought: "as you brought it", asTraced: "as it was traced",

  fitting: "The fitting", fitted: "Nothing pinches.", notFitted: "Not tried on yet.",
  tryOn: "Try it on", tryingOn: "Trying it on …", stale: "Changed since: trying it on again.",
  severity: { blocker: "must change", caution: "mind this", note: "good to know" } as Record<string, string>,
  place: (n: number) => `Show place ${n} on the table`,
  ways: "Ways out", onLayer: (layer: string) => `on ${layer}`,
  repairAll: "Mend all that must change", repairing: "Mending …",
  changed: (what: string) => `Changed: ${what}.`,
  beforeAfter: (was: string, now: string) => `Before: ${was}. Now: ${now}.`,
  counts: (b: number, c: number) => `${b} to change, ${c} to mind`,
  onMachine: (time: string) => `${time} on the machine`,
  takeBack: "Take it back", moreNotes: (n: number) => `${n} more`, fewer: "Fewer",
  breaksUnder: (weight: string) => `It gives way under about ${weight}.`,
  weights: {
    grams: (g: number) => `${g} g, less than an egg weighs`,
    eggs: (n: number) => (n === 1 ? "the weight of an egg" : `the weight of ${n} eggs`),
    litres: (n: string) => `the weight of ${n} ${n === "1" ? "litre" : "litres"} of water`,
    person: "the weight of a person",
  },

  cutting: "To the machine", machine: "Machine", holdDown: "Held down by", detail: "Corners may stay round by", sheets: "Sheets to take",
  hold: { "": "what suits", tabs: "tabs", tape: "tape", skin: "a skin left below" } as Record<string, string>,
  anySheet: "any from the rack", onRack: (n: number) => `${n} on the rack`,
  madeIn: "Made in the shop", seeShop: "See what is in it", shippedShop: "what letterply came with", noSheet: "none on the rack",
  clamps: "Clamps and screws", clampsNone: "none told: choose a sheet", clampsCount: (n: number) => (n === 1 ? "one told: choose a sheet" : `${n} told: choose a sheet`),
  clampsHow: "Click where it sits, or move the cross with the arrow keys (with Shift: a little) and press Enter. Places are told from the lower left corner of the sheet. Neither a cutter nor low travel goes there.",
  clampsEach: (n: number) => `They count for each of the ${n} sheets.`, clampsKind: "What is put there",
  clampsPicture: "The sheet from above, with what holds it", clampAdd: (what: string) => `Put a ${what} at the cross`,
  clampsHeld: (n: number) => (n === 1 ? "1 place kept clear" : `${n} places kept clear`),
  clampsKeep: (shop: string) => `Keep it like this in the shop ${shop}`, clampsStored: "Kept: it counts for every piece from now on.",
  keptKinds: { clamp: "clamp", screw: "screw", cut: "cut-out place" } as Record<string, string>,
  keptSides: { x: "From the left", y: "From below", width: "Wide", height: "High", diameter: "Across" } as Record<string, string>,
  keptMiddle: { x: "Middle from the left", y: "Middle from below" } as Record<string, string>,
  fromCorner: (x: string, y: string) => `${x} from the left, ${y} from below`,
  plan: "Lay it out and prove it", planning: "At work …", stop: "Stop waiting",
  planStale: "The piece was changed since this was laid out.",
  planUnits: "Laid out in the other units: lay it out again to read it in these.",
  phases: {
    queued: "waiting for its turn", layers: "making the layers", checks: "trying it on", nesting: "laying parts on sheets",
    cutting: "planning the cuts", proof: "proving the programs", pictures: "drawing",
  } as Record<string, string>,
  stepOf: (step: number, steps: number) => `${step} of ${steps}`,
  proved: "Proved: the programs make these parts.",
  unproved: "Not proved: the programs would not make these parts.",
  nothingLaid: "Nothing was laid out: there is no program.",
  sheet: (n: number) => `Sheet ${n}`, afterwards: "What is left when the programs have run",
  laidOut: "How the parts lie", cutters: "Cutters, and why", setUp: "Setting up, in this order",
  program: (n: number, file: string, cutter: string, time: string) => `${n}. Put in ${cutter}, run ${file} (${time})`,
  cautions: "Before you start", take: "Take it along", allFiles: "Everything, as one ZIP",
  acceptUnproved: "I take these programs although they are unproved: they may spoil the sheet, break the cutter or hurt me.",
  unprovedMark: "unproved",
  setsOf: { cutter_choice: "Sets of cutters for the outlines", floor_choice: "Sets of cutters for the floors" } as Record<string, string>,
  setsPictureWas: "The frame is round what was taken when the whole rack was free to choose from.",
  setsVain: "Other sets of the rack take longer and win nothing",
  setsPicture: "What each set leaves in the corners: the coloured places stay", setNow: "This is how it is laid out.",
  leftSharp: "corners as drawn", leftRound: (deep: string, area: string) => `round by up to ${deep} (${area} in all)`,
  setQuicker: (time: string) => `${time} less`, setSlower: (time: string) => `${time} more`,
  setRounder: (size: string) => `corners round by ${size} more`, setSharper: (size: string) => `corners sharper by ${size}`,
  setSame: "corners as sharp", setVain: "Nothing is won by it.",
  takeSet: "Lay it out with these cutters", takeSetPick: "Choose another set to weigh it against this one.", takeSetNext: "The other cutters stay in the rack, and can be had again.",
  cuttersChosen: (names: string) => `Of the cutters that could do it, only these are taken: ${names}.`, allCutters: "All of the rack again",
  byHand: "A program that you changed", byHandHow: "Bring it here, or drop it on this place: it is read line by line and proved against the parts, the cutters and the machine. Nothing in it is rewritten.",
  byHandBring: "Bring changed programs", byHandProving: "Reading and proving …",
  byHandWhich: (name: string) => `Which program is ${name}?`, byHandGood: "Proved: the programs as you changed them make these parts.",
  byHandBad: "Not proved: as it was changed, it would not make these parts.", byHandSame: "It is the same as the plan's, letter for letter.",
  byHandOf: (names: string) => `With ${names} as you brought it; the files below are still those of the plan.`,
  byHandShop: "Run in the shop", byHandOwnShop: "that of the plan, as it was then", byHandIn: (shop: string) => `Judged by the shop ${shop}: its machine, cutters and feeds.`,
  byHandLeave: "Put the changed programs away", byHandNoPlan: "a program is proved against its plan: lay the piece out first",
  inProgram: (file: string, line: number) => `${file}, line ${line}`,
  faults: "What the proof found",

  watch: "Watch it being cut", play: "Play", pause: "Pause", stepBack: "One operation back", stepOn: "One operation on",
  moment: "Where it is", pace: "Pace",
  paces: { minute: "all of it in a minute", quick: "in twenty seconds", ten: "ten times the machine", real: "as the machine" } as Record<string, string>,
  doing: {
    profile: "Cutting out", pocket: "Clearing a pocket", groove: "Carving", scribe: "Scribing", drill: "Drilling",
  } as Record<string, string>,
  putIn: (cutter: string, program: string) => `Put in ${cutter}, run ${program}`,
  soFar: (now: string, all: string) => `${now} of ${all}`,

  stock: "The stock", stockTake: "Take its sheets out of the shop's stock", stockBack: "Put them back",
  stockAbout: (shop: string) => `Once it is cut, its sheets go out of the stock of ${shop}; what is left of them comes back and is used first.`,
  stockTaken: (shop: string) => `Taken out of the stock of ${shop}:`, stockCount: (taken: number, left: number) => `${taken} taken, ${left} left`,
  stockKept: "New, with what is left of them: write these names on it.", stockNothing: "Nothing of it is worth keeping.",
  stockHoles: (n: number) => (n === 1 ? "1 hole" : `${n} holes`), stockOutline: (key: string) => `${key} from above`,

  earlier: "Pieces from before", notReady: "not ready to be cut",

  usualShop: "Taken wherever no shop is named", newShop: "Begin a shop of your own", shopStored: "Kept. What is made from now on is made with it.",
  shippedAbout: "Usual cutters, machines and materials; the sheets and their prices are invented. Begin a shop of your own, put in what you have and measured, and everything is made with that.",
  needed: "This is needed.", shopKeep: "Keep it", theCutters: "Cutters in the rack", addCutter: "Put in another cutter", theSheets: "Sheets on the rack", addSheet: "Put in another sheet",
  thePrices: "Prices", changePrices: "Change the prices", pricesElse: "Where the shop says nothing, prices are made with example figures.", changeIt: "Change", offRack: "Take off the rack",
  offcut: "left-over, used first", across_: (size: string) => `${size} across`, reaches: (size: string) => `reaches ${size} deep`,
  flutes: (n: number) => (n === 1 ? "one flute" : `${n} flutes`),
  machineFacts: (bed: string, feed: string, units: string) => `A bed of ${bed}, at most ${feed}; its programs are written in ${units}.`,
  shopUnits: { mm: "millimetres", inch: "inches" } as Record<string, string>,
  cutterKinds: {
    flat: "end mill", ball: "ball nose", vbit: "V-bit", drag: "drag point", drill: "drill", beam: "beam",
  } as Record<string, string>,
  shopFields: {
    name: "Called", title: "In words", units: "Speaks in", machine: "Machine", kind: "What it is", diameter: "Across, as measured",
    cutting_length: "Reaches so deep", flutes: "Flutes", included_angle_deg: "Angle of its tip, degrees", tip_diameter: "Flat of its tip",
    material: "Material", thickness: "Thickness, as measured", width: "Width, along the grain", height: "Height", count: "How many there are",
    price: "Price of one", margin: "Strip for clamps along the edges", offcut: "a left-over, to be used first",
  } as Record<string, string>,
  priceRules: {
    currency: "Currency", machine_hour: "An hour of the machine", hand_hour: "An hour of handwork", material_markup: "Material, times",
    set_up_minutes: "Minutes to set up a sheet", cutter_change_minutes: "Minutes to change a cutter", load_minutes: "Minutes to lay in new blanks",
    waste_share: "Waste charged, as a share", minimum: "Least price of an order",
  } as Record<string, string>,

  pieces: "Test pieces", piecesAbout: "Cut one, measure it, type in what you read: then the figures of the shop are those of your machine, and everything after is made with them.",
  pieceKind: "What is measured", pieceCutter: "With", pieceSheet: "Cut from", pieceInto: "Goes into", pieceOf: "What goes in", pieceDowel: "a dowel",
  pieceKinds: {
    diameter: "how wide a cutter or beam cuts", fit: "how loose a fit has to be", angle: "the angle and tip of a V-bit",
    feed: "which feed works", line: "how wide a drag point draws", flatness: "how flat and thick a sheet is",
  } as Record<string, string>,
  pieceMake: "Make the test piece", pieceRead: "What you read on it", pieceReadHow: (units: string) => `In ${units}, as on the sheet to write on (piece.pdf): it shows where each is measured.`,
  pieceStep: "Smallest step of your caliper", pieceTell: "See what it changes", pieceKeep: "Keep it in the shop", pieceHistory: "Measured so far",
  habits: {
    change: "Change the machine", folded: "How its programs are written, and what else it does",
    zeroIs: (across: string, up: string) => `Work zero: ${across}; in height ${up}.`,
    fields: {
      name: "Called", "bed.0": "Travel, left to right", "bed.1": "Travel, front to back", max_feed: "Fastest feed", units: "Its programs are in",
      zero_xy: "Work zero on the sheet", "pin.0": "The pin, from the left", "pin.1": "The pin, from below", zero: "Work zero in height",
      safe_height: "Travels so high above the stock", spindle_off: "programs stop its spindle", arcs: "takes arcs (G2, G3)",
      arc_form: "Arcs are written", dwell: "A pause (G4 P) counts", spin_up_s: "Seconds for the spindle to spin up", comments: "Comments stand",
      tool_change: "Cutters are changed", "park.0": "Goes for a change to, left to right", "park.1": "and front to back", park_from: "counted from",
      blank_zero_xy: "Work zero for ready-made pieces", line_end: "Lines end with", end_word: "A program ends with", extension: "Its files end in",
      line_number_step: "Lines are numbered by (0: not)", decimals: "Digits after the point", coolant_on: "Coolant on, as M8", coolant_off: "Coolant off, as M9",
      extraction_on: "Extraction on, as M64 P0", extraction_off: "Extraction off, as M65 P0", start_words: "Lines at the start, with commas between",
      end_words: "Lines before the end, with commas between", program_mark: "programs stand between lines of %", length_offsets: "cutters have lengths of their own (G43)",
    } as Record<string, string>,
    choices: {
      units: { mm: "millimetres", inch: "inches" },
      zero_xy: {
        "lower-left": "its lower left corner", "lower-right": "its lower right corner", "upper-left": "its upper left corner", "upper-right": "its upper right corner",
        centre: "its middle", parts: "the middle of the parts", pin: "a pin of the machine",
      },
      zero: { top: "on the face of the stock", bed: "on the bed" },
      arc_form: { centre: "I, J from their start", "centre-absolute": "I, J from zero", radius: "R, their radius" },
      dwell: { seconds: "seconds", milliseconds: "milliseconds" }, comments: { parentheses: "in parentheses", semicolon: "after a semicolon" },
      tool_change: { program: "by hand: a program for each", automatic: "by the machine (M6)" },
      park_from: { machine: "its own home (G53)", zero: "the work zero" },
      blank_zero_xy: { first: "the middle of the first", fixture: "where it is on a sheet" },
      line_end: { lf: "LF alone, as on Linux", crlf: "CR LF, as on Windows" }, end_word: { M30: "M30", M2: "M2" },
    } as Record<string, Record<string, string>>,
  },

  list: "The names", listHelp: "One on each line, or a table whose first row says text, quantity, size, font or reference.",
  listTable: "The names as a table", listFile: "Bring a list (CSV)", listRecipe: "Each becomes", thisPiece: "the piece on the bench",
  orderTitle: "The order is called", row: "Line", text: "Text", font: "Font", wanted: (what: string) => `Wanted: ${what}.`, quantity: "Copies", addLine: "One more line",
  removeLine: (n: number) => `Take line ${n} out`, dryRun: "What would it take?", dryRunning: "Reckoning …",
  start: "Have them made", starting: "Handing it over …", mistakes: (n: number) => (n === 1 ? "One thing is wrong:" : `${n} things are wrong:`),
  band: (p: number) => `right within ${p} %`, enough: "enough on the rack", short: "not enough on the rack",
  contact: "All of them at a glance", trouble: "with trouble first", orderGoesOn: "The order",
  orderPhases: {
    waiting: "waiting", lines: "making the lines", pools: "sorting by material", sheets: "laying out and proving sheets",
    papers: "writing the papers", done: "done", failed: "failed", cancelled: "cancelled",
  } as Record<string, string>,
  lineStates: { waiting: "waiting", made: "made", failed: "not made" } as Record<string, string>,
  remaining: (time: string) => `about ${time} to go`, cancel: "Cancel the order", again: "Ask for the lost lines again",
  jobSheet: "Job sheet (PDF)", bundle: "Everything, as one ZIP", anotherOrder: "Begin another list",
  offering: "The customer", offer: "Show it to the customer",
  offerWaits: "as soon as it has been tried on", offerBusy: "One moment …",
  offerAbout: "The customer gets a link to a page with picture, size, materials and price, and says yes or wishes for something else.",
  offerTitle: "What it is called", offerPrice: "Price", offerCurrency: "Currency", offerDays: "Open for",
  days: (n: number) => `${n} days`, offerMaker: "Who offers it", offerNote: "What else to say",
  offerQuote: "The price is what the quote says. Where you have no price rules of your own it comes from example figures: put in yours.",
  offerNoQuote: "Laid out and proved first, it would have a quote of its own here.",
  offerMake: "Make the link", offerLeave: "Leave it",
  offerStates: { open: "no yes yet", agreed: "yes", ended: "ended without a yes", withdrawn: "taken back" } as Record<string, string>,
  offerUntil: (day: string) => `until ${day},`, offerVersion: (short: string) => `version ${short}`,
  offerSame: "This is the piece on the bench as it is now.",
  offerChanged: "Not the piece on the bench as it is now: what was said is not said to this one.",
  offerStale: (titles: string) => `Changed since it was shown, so nothing was said to this order as it is: ${titles}`,
  saidYes: (name: string, when: string) => `Yes from ${name}, ${when}`,
  saidWish: (name: string, when: string) => `A wish from ${name}, ${when}`,
  offerPaper: "The same on paper (PDF)", offerWithdraw: "Take it back …", offerWithdrawSure: "Take it back for good", offerKeep: "Keep it",
  offerLink: "The link for the customer", offerCopy: "Copy the link", offerOpen: "See what the customer sees",
  offerOnce: "Told only here and now: send it to the customer, and to nobody else.",
  offerReach: "Told only here and now. This service answers on this computer alone, so nobody else can open the link: send the paper, or have the service set up for others.",
  badLength: "as 9, 9 mm or 3/8 in", wrong: (detail: string) => detail,
};

export type Words = typeof english;

/** What the service is asked for names in, where that is not English. */
export let inLanguage: { lang?: string } = {};
/** How dates are written: as the browser has them, unless the page speaks another language. */
export const dates = () => inLanguage.lang;

/** A name in the midst of a sentence: not every language writes its nouns with a small letter there. */
export const amidst = (name: string) => (say === english ? name.toLowerCase() : name);

/** The words in the language of the page. */
export let say: Words = english;
/** How what the service says is said in it: by the words that it is made of, else as it came. */
export let ofService = (_told: Told | null | undefined, text: string): string => text;

interface Language { words: Words; ofService: typeof ofService }
const OTHERS: Record<string, () => Promise<Language>> = {
  de: () => import("./german").then((found) => ({ words: found.german, ofService: found.ofService })),
};

/** Speak the language that the address names (`?lang=de`), where there is one; fetched only then. */
export async function speak(): Promise<void> {
  const wanted = new URLSearchParams(location.search).get("lang") ?? "";
  const found = Object.hasOwn(OTHERS, wanted) ? OTHERS[wanted] : undefined;
  if (!found) return;
  ({ words: say, ofService } = await found());
  inLanguage = { lang: wanted };
  document.documentElement.lang = wanted;
}
