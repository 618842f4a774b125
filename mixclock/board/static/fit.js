// Letters as large as their line allows: whoever stands in the middle of the floor cannot come closer.

const FLOOR_PX = 26;

/** Size every `.fit` inside so that it fills its line; one too long for that wraps at the smallest size. */
export function fitAll(root) {
  for (const line of root.querySelectorAll(".fit")) fit(line);
}

function fit(line) {
  const width = line.clientWidth;
  if (!width) return;
  const most = Number(line.dataset.most) * Math.min(window.innerHeight, 1400) / 100 || 200;
  const least = Number(line.dataset.least) || FLOOR_PX;
  const key = `${line.textContent}|${width}|${Math.round(most)}`;
  if (line.dataset.fitted === key) return;
  line.style.whiteSpace = "nowrap";
  line.style.fontSize = "100px";
  const natural = line.scrollWidth > width ? line.scrollWidth : measured(line);
  const size = Math.floor(Math.min(most, (100 * width) / Math.max(natural, 1)) * 0.985);
  line.style.fontSize = `${Math.max(size, least)}px`;
  line.style.whiteSpace = size < least ? "normal" : "nowrap";
  line.dataset.fitted = key;
}

function measured(line) {
  const range = document.createRange();
  range.selectNodeContents(line);
  return range.getBoundingClientRect().width;
}
