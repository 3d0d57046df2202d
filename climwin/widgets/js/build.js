// Bundles the front end into bundled/: widget.js and season.js for notebooks, page.js for
// the page to share.
//
//   node build.js          writes the bundles
//   node build.js --check  fails where a bundle is not what its sources give
//
// The bundles are committed, so that nobody needs node to install or test climwin. The head of each
// names the version of esbuild and two SHA-256 sums: of the sources and of the text below the head.
// tests/widgets/test_front_end.py computes both again, without node.

import { createHash } from "node:crypto";
import { mkdirSync, readFileSync, readdirSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { build, version } from "esbuild";

const HERE = dirname(fileURLToPath(import.meta.url));
const WORDING = "../../core/wording.json";

/** What is bundled, and in which form: a notebook imports its module, a page runs its script. */
const BUNDLES = [
  { name: "widget.js", format: "esm" },
  { name: "season.js", format: "esm" },
  { name: "page.js", format: "iife" },
];

const sha256 = (text) => createHash("sha256").update(text, "utf8").digest("hex");

/** Text with the line ends of Unix, however it was checked out. */
const readText = (path) => readFileSync(path, "utf8").replaceAll("\r\n", "\n");

/** One sum over the names and texts of all sources, in the order of their names. */
function sumOfSources() {
  const modules = readdirSync(join(HERE, "src"))
    .filter((name) => name.endsWith(".js"))
    .map((name) => `src/${name}`)
    .sort();
  const paths = [...modules, "build.js", WORDING];
  return sha256(paths.map((path) => `${path}\n${readText(join(HERE, path))}\n`).join(""));
}

async function bundle({ name, format }) {
  const { outputFiles } = await build({
    absWorkingDir: HERE,
    entryPoints: [`src/${name}`],
    bundle: true,
    charset: "utf8",
    format,
    legalComments: "none",
    minify: format === "iife", // a page carries its script; a notebook's stays readable
    target: "es2022",
    write: false,
  });
  const { text } = outputFiles[0];
  const head = [
    `// Bundled from climwin/widgets/js/src by "make js" with esbuild ${version}: do not edit.`,
    `// sources ${sumOfSources()}`,
    `// text ${sha256(text)}`,
  ];
  return `${head.join("\n")}\n${text}`;
}

mkdirSync(join(HERE, "bundled"), { recursive: true });
for (const each of BUNDLES) {
  const path = join(HERE, "bundled", each.name);
  const text = await bundle(each);
  if (!process.argv.includes("--check")) {
    writeFileSync(path, text);
  } else if (readText(path) !== text) {
    console.error(`bundled/${each.name} is not what its sources give. Run "make js".`);
    process.exitCode = 1;
  }
}
