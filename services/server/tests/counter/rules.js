// The main rules of WCAG 2.2 that a program can judge: names, language, headings, ids, contrast (1.4.3), target size (2.5.8 asks for 24 px,
// the design for 44), reflow (1.4.10).
const broken = [];
const seen = (element) => {
  const box = element.getBoundingClientRect();
  const style = getComputedStyle(element);
  return box.width > 1 && box.height > 1 && style.visibility !== "hidden" && !element.closest(".hidden, .skip");
};
const where = (element) => element.outerHTML.replace(/\s+/g, " ").slice(0, 120);
const named = (element) =>
  element.getAttribute("aria-label") || element.textContent.trim() || element.title || element.alt;

if (!document.documentElement.lang) broken.push("the page has no language");
if (!document.title.trim()) broken.push("the page has no title");
if (document.querySelectorAll("h1").length !== 1) broken.push(`${document.querySelectorAll("h1").length} headings of the first level`);
if (document.querySelectorAll("main").length !== 1) broken.push("there is not one main part");

const ids = new Set();
for (const element of document.querySelectorAll("[id]")) {
  if (ids.has(element.id)) broken.push(`two of the id ${element.id}`);
  ids.add(element.id);
}
for (const field of document.querySelectorAll("input:not([type=hidden]), select, textarea"))
  if (!field.labels?.length && !field.getAttribute("aria-label")) broken.push(`a field without a label: ${where(field)}`);
for (const label of document.querySelectorAll("label[for]"))
  if (!document.getElementById(label.htmlFor)) broken.push(`a label of no field: ${where(label)}`);
for (const element of document.querySelectorAll("a[href], button, summary"))
  if (!named(element)) broken.push(`nothing says what it does: ${where(element)}`);
for (const element of document.querySelectorAll("img, svg[role=img]"))
  if (!named(element)) broken.push(`a picture without words: ${where(element)}`);
for (const link of document.querySelectorAll('a[href^="#"]'))
  if (!document.getElementById(link.getAttribute("href").slice(1))) broken.push(`a link to nowhere: ${where(link)}`);
for (const cell of document.querySelectorAll("thead th")) if (!cell.scope) broken.push(`a heading without its direction: ${where(cell)}`);

const luminance = (color) => {
  const parts = color.match(/[\d.]+/g).map(Number);
  const [r, g, b] = parts.slice(0, 3).map((part) => {
    const share = part / 255;
    return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
  });
  return { value: 0.2126 * r + 0.7152 * g + 0.0722 * b, clear: parts.length === 4 && parts[3] === 0 };
};
const behind = (element) => {
  for (let at = element; at; at = at.parentElement) {
    const found = luminance(getComputedStyle(at).backgroundColor);
    if (!found.clear) return found.value;
  }
  return 1;
};
for (const element of document.querySelectorAll("body *")) {
  const own = [...element.childNodes].some((node) => node.nodeType === 3 && node.textContent.trim());
  if (!own || !seen(element) || element.closest("svg") || ["SCRIPT", "NOSCRIPT", "OPTION"].includes(element.tagName)) continue;
  const [a, b] = [luminance(getComputedStyle(element).color).value, behind(element)].sort((x, y) => y - x);
  const contrast = (a + 0.05) / (b + 0.05);
  if (contrast < 4.5) broken.push(`contrast of ${contrast.toFixed(2)}: ${where(element)}`);
}
for (const element of document.querySelectorAll("button, select, input:not([type=hidden]), .button, .chip, summary")) {
  const box = element.getBoundingClientRect();
  if (seen(element) && box.height < 43.5 && element.type !== "checkbox") broken.push(`${box.height.toFixed(0)} px high: ${where(element)}`);
}
if (document.documentElement.scrollWidth > window.innerWidth + 1)
  broken.push(`the page is ${document.documentElement.scrollWidth} px wide in a window of ${window.innerWidth}`);
return broken;
