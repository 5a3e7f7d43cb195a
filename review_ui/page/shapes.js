// The forms of the server's answers.

/** @typedef {import('./looks.js').Doubt} Doubt */
/** @typedef {{id: string, label: string|null, at: number[]}} Terminal */
/** @typedef {{node: string|null, terminal: string|null, here: boolean, at: number[]}} End */
/** @typedef {{id: string, text: string|null, lines: number[][][], doubt: Doubt, ends: End[]}} Wire */
/** @typedef {{id: string, kind: string, text: string|null, box: number[][], zone: string|null, doubt: Doubt, terminals: Terminal[], connector?: string}} Drawn */
/** @typedef {{id: string, at: number[], degree: number, zone: string|null, doubt: Doubt}} Splice */
/** @typedef {{id: string, at: number[], side: string, text: string|null, other: string|null, doubt: Doubt}} Edge */
/** @typedef {{sheet: string, wires: Wire[], components: Drawn[], connectors: Drawn[], grommets: Drawn[], grounds: Drawn[], splices: Splice[], edges: Edge[], revision?: number, zones?: Ground['zones']}} Read */
/** @typedef {{label: string, start: number, end: number}} Band */
/** @typedef {{sheet: string, width: number, height: number, side: number, levels: number, mark: string, px_per_mm: number, zones: {nominal: boolean, columns: Band[], rows: Band[]}}} Ground */
/** @typedef {{id: string, number: number, file: string, kind: string|null, failed: string|null, advice: string|null, title: string|null, label: string|null, doubts: number, done: boolean}} Leaf */
/** @typedef {{group: number, says: string}|null} Movable */
/** @typedef {{name: string, rights: string, revision: number, sheets: Leaf[], lost: {number: number, who: string, when: string, says: string, status: string}[], doubts: number, kinds: string[], undo: Movable, redo: Movable}} Overview */
/** @typedef {{text: string, probability: number}} Alternative */
/** @typedef {{sheet: string, box: number[], mm: number[]}} Spot */
/** @typedef {{id: string, sheet: string, text: string|null, zone: string|null}} Partner */
/** @typedef {{says: string, order: Record<string, unknown>}} Offer */
/** @typedef {{kind: string, targets: string[], value: string|null, probability: number, alternatives: Alternative[], why: string, follows: number, score: number, spots: Spot[], places: number, partners?: Partner[], nearby: string[], offers: Offer[]}} Question */
/** @typedef {{kind: string, id: string, text: string, sheet: string, zone: string|null, box: number[]}} Sight */
/** @typedef {{revision: number, says: string, touched: string[], anew: boolean, changed: Read|null, undo: Movable, redo: Movable}} Done */

export {};
