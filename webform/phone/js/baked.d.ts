// Made by the build beside the app; see build.mjs.
declare module "ashbook:baked" {
  export const DECLARATION: import("./types").Declaration;
  export const WORDS: Record<string, string>;
  export const ASSETS: import("./types").Assets;
  export const CALCULATION: string;
}
declare const VERSION: string;
declare const CORE: string[];
declare const LATER: string[];
declare module "@micropython/micropython-webassembly-pyscript/micropython.mjs" {
  export function loadMicroPython(options: { url: string; heapsize: number; pystack: number }): Promise<any>;
}
