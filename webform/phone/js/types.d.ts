// The shapes that the phone's modules pass to each other; the data contract itself is in DEVELOPERS.md.

export type Value = any;
export interface Answer { id: string; value: Value; by: string; at: string; lamport: number; basis?: any; unsent?: boolean }
export interface ViewField { answers: Answer[]; used: Value; open: boolean }
export interface View { record: string; kind: string; fields: Record<string, ViewField>; links?: string[] }
export interface Snapshot { record: string; kind: string; heads: Record<string, Answer[]>; gone?: Record<string, string[]> }
export interface Change {
  id: string; kind: string; record: string; set: Record<string, Value>; replaces: Record<string, string[]>;
  basis?: any; lamport: number; at: string; by: string; schema: number
}
/** What a screen wants written: one change. */
export interface Entry {
  kind: string; record: string; set: Record<string, Value>; replaces?: Record<string, string[]>; basis?: any
}
export interface Queued { n?: number; id: string; hash: string; text: string; change: Change; reason?: string;
  position?: number; epoch?: string; confirmed_at?: string; told_at?: string }
export interface Draft {
  key: string; step: string; record: string; slot: string; values: Record<string, Value>;
  replaces: Record<string, string[]>; began_at: string; job?: string
}
/** A photo as an answer names it. */
export interface Photo { sha256: string; bytes: number; taken_at: string }
/** A photo as this phone keeps it. refused: the server's sentence, where it will not have it. */
export interface KeptPhoto extends Photo { state: "draft" | "waiting" | "confirmed"; since: string; confirmed_at?: string; told_at?: string; refused?: string; carried_at?: string }
export interface Place { epoch: string; position: number; chain: string }
export interface Waiting {
  count: number; drafts: number; photos: number; since: string | null; held: number; confirmed: string | null; persistent: boolean; isShut: boolean; isLost: boolean;
  clockOff: number | undefined
}
/** What this phone's book has lost. all: the book is empty; part: it ends before its mark; back: the office knows more of it.
 * count: changes that had not been confirmed (all, part), or answers found at the office (back); null where nobody knows. */
export interface Loss { what: "all" | "part" | "back"; count: number | null; at: string | null }
export interface SyncResult {
  state: "done" | "offline" | "revoked" | "foreign" | "not_enrolled" | "trouble" | "busy";
  sent: number; confirmed: number; held: number; pulled: number; photos: number
}
export interface Problem { field: string; code: string; values: Record<string, any>; text: string }

export interface Choice { code: string; label: string }
export interface Field {
  name: string; label: string; kind: "number" | "choice" | "choices" | "text" | "ref" | "cells" | "photos"; units: string[];
  low: number | null; high: number | null; bound_unit: string | null; is_whole_number: boolean; choices: Choice[];
  to: string | null; required: boolean; help: string; policy: string;
  shown_when: { field: string; codes: string[] } | null; longest: number; quantity: string | null; is_former: boolean
}
export interface Step {
  name: string; record: string; slot: string | null; is_staged: boolean; title: string; policy: string; feeds: string;
  skippable: boolean; cautions: string[]; help: string; place: string; fields: Field[]
}
export interface Bound {
  form: HTMLFormElement; read: () => Record<string, any>; fresh: () => Record<string, string>;
  problems: (found: Problem[]) => void; settled: () => Promise<void>; box: (field: string) => HTMLElement
}
export interface Declaration {
  schema: number; stages: string[]; readings: string[]; personal: string[]; skip_reasons: Choice[];
  cautions: { code: string; text: string; source: string }[]; steps: Step[]
}
export interface Assets { calc_worker: string; calc: string; micropython: string; scan_worker: string; zxing: string }
