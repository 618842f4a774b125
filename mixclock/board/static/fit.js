// Makes letters as large as their line allows: whoever stands in the middle of the floor cannot come closer.

const FLOOR_PX = 26;

const LEADING = 1.12;

/**
 * Size every `.fit` inside so that it fills its line, or two where that makes its letters larger and it may be broken;
 * one too long for that wraps at the smallest size. Together they leave room for the buttons: the time that is left and
 * the first button are never cut.
 */
export function fitAll(root, roomPx) {
  const lines = [...root.querySelectorAll(".fit")];
  const shares = lines.reduce((sum, line) => sum + Number(line.dataset.most || 0), 0) * LEADING;
  const unit = Math.min(Math.min(window.innerHeight, 1400) / 100, Math.max(roomPx, 120) / Math.max(shares, 1));
  for (const line of lines) fit(line, unit);
}

function fit(line, unit) {
  const width = line.clientWidth;
  if (!width) return;
  const most = Number(line.dataset.most) * unit || 200;
  const least = Math.min(Number(line.dataset.least) || FLOOR_PX, most);
  const key = `${line.textContent}|${width}|${Math.round(most)}`;
  if (line.dataset.fitted === key) return;
  line.style.whiteSpace = "nowrap";
  line.style.fontSize = "100px";
  const natural = line.scrollWidth > width ? line.scrollWidth : measured(line);
  const size = (natural100, most100) => Math.floor(Math.min(most100, (100 * width) / Math.max(natural100, 1)) * 0.985);
  const [one, two] = [size(natural, most), "breaks" in line.dataset ? size(halved(line), most / 2) : 0];
  const broken = two > 1.1 * one;
  line.style.fontSize = `${Math.max(broken ? two : one, least)}px`;
  line.style.whiteSpace = broken || one < least ? "normal" : "nowrap";
  line.dataset.fitted = key;
}

/** How wide the text is when it is broken into two lines at the best of its spaces. */
function halved(line) {
  const words = line.firstChild;
  const width = (from, to) => {
    const range = document.createRange();
    range.setStart(words, from);
    range.setEnd(words, to);
    return range.getBoundingClientRect().width;
  };
  const spaces = [...line.textContent.matchAll(/ /g)].map((found) => found.index);
  return Math.min(Infinity, ...spaces.map((at) => Math.max(width(0, at), width(at + 1, words.length))));
}

function measured(line) {
  const range = document.createRange();
  range.selectNodeContents(line);
  return range.getBoundingClientRect().width;
}
