// Each of these looks at the page as the browser has laid it out, and answers with a list of complaints.

const name = (of) => `${of.tagName} ${of.id || of.getAttribute('class') || ''} "${(of.textContent || '').trim().slice(0, 60)}"`;
const seen = (of) => of.checkVisibility({ opacityProperty: true, visibilityProperty: true });

// Every figure is drawn: has its words, its table, shapes with a size that lie inside it, and no label over another.
function figures(least) {
  const bad = [];
  const all = [...document.querySelectorAll('figure.plot svg')];
  if (all.length < least) bad.push(`${all.length} figures, at least ${least} are wanted`);
  for (const svg of all) {
    if (svg.getAttribute('role') !== 'img') bad.push(`no role: ${name(svg)}`);
    for (const by of ['aria-labelledby', 'aria-describedby']) {
      const words = document.getElementById(svg.getAttribute(by));
      if (!words || !words.textContent.trim()) bad.push(`${by} leads nowhere: ${name(svg)}`);
    }
    if (!svg.closest('figure').querySelector('details table tbody tr')) bad.push(`no table: ${name(svg)}`);
    const shown = svg.getBoundingClientRect();
    if (shown.width < 100 || shown.height < 50) bad.push(`too small: ${name(svg)} ${shown.width} x ${shown.height}`);
    const view = svg.viewBox.baseVal;
    const marks = [...svg.querySelectorAll('path, rect, circle, text')];
    if (marks.length < 8) bad.push(`hardly anything is drawn: ${name(svg)}`);
    for (const mark of marks) {
      const box = mark.getBBox();
      if (!(box.width + box.height > 0)) bad.push(`without a size: ${mark.outerHTML.slice(0, 120)}`);
      if (box.x < view.x - 1 || box.y < view.y - 1 || box.x + box.width > view.x + view.width + 1
        || box.y + box.height > view.y + view.height + 1) bad.push(`outside its figure: ${mark.outerHTML.slice(0, 120)}`);
    }
    const labels = marks.filter((mark) => mark.tagName === 'text').map((mark) => [mark.textContent, mark.getBBox()]);
    labels.forEach(([one, a], at) => labels.slice(at + 1).forEach(([other, b]) => {
      const over = Math.min(a.x + a.width, b.x + b.width) - Math.max(a.x, b.x) > 0.5
        && Math.min(a.y + a.height, b.y + b.height) - Math.max(a.y, b.y) > 0.5;
      if (over) bad.push(`"${one}" and "${other}" overlap in ${name(svg)}`);
    }));
  }
  return bad;
}

// WCAG 2.2, relative luminance and contrast ratio: https://www.w3.org/TR/WCAG22/#dfn-relative-luminance
function rgb(text) {
  const found = text.match(/^rgba?\(([^)]*)\)$/);
  return found ? found[1].split(',').map(Number) : null;
}
function luminance([r, g, b]) {
  const [R, G, B] = [r, g, b].map((c) => c / 255).map((c) => (c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4));
  return 0.2126 * R + 0.7152 * G + 0.0722 * B;
}
function ratio(a, b) {
  const [x, y] = [luminance(a), luminance(b)];
  return (Math.max(x, y) + 0.05) / (Math.min(x, y) + 0.05);
}
function ground(of) {
  for (let at = of; at; at = at.parentElement) {
    const color = rgb(getComputedStyle(at).backgroundColor);
    if (color && (color.length < 4 || color[3] === 1)) return color;
  }
  return rgb('rgb(255, 255, 255)');
}

// WCAG 2.2, 1.4.3 (AA): words at 4.5 to 1, large ones at 3; 1.4.11: what must be seen of a figure at 3.
function contrast() {
  const bad = new Set();
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  let words = 0;
  while (walk.nextNode()) {
    const of = walk.currentNode.parentElement;
    if (!walk.currentNode.data.trim() || !seen(of) || of.closest('title, desc, style')) continue;
    const style = getComputedStyle(of);
    const size = parseFloat(style.fontSize);
    const large = size >= 24 || (size >= 18.66 && Number(style.fontWeight) >= 700);
    const ink = rgb(of.closest('svg') ? style.fill : style.color);
    if (!ink) { bad.add(`no plain colour: ${name(of)}`); continue; }
    // Part of a figure lies on a ground of its own.
    const grounds = [ground(of)];
    const ahead = of.closest('svg') && of.closest('svg').querySelector('.ahead');
    if (ahead) grounds.push(rgb(getComputedStyle(ahead).fill));
    words += 1;
    for (const paper of grounds) {
      const got = ratio(ink, paper);
      if (got < (large ? 3 : 4.5)) bad.add(`${got.toFixed(2)} to 1: ${name(of)}`);
    }
  }
  if (words < 20) bad.add(`only ${words} pieces of text were looked at`);
  const lines = { stroke: ['.hours', '.limit', '.due:not(.state)', '.reading', '.now', '.stay', '.fitted', '.bounds', '.tick', '.dotting'],
    fill: ['.odd', '.fitted-mark', '.drop', '.stay-chosen', '.sign', '.used'] };
  for (const [property, classes] of Object.entries(lines)) {
    for (const one of classes) {
      for (const of of document.querySelectorAll(`svg ${one}, svg${one}`)) {
        const color = rgb(getComputedStyle(of)[property]);
        if (color && ratio(color, ground(of)) < 3) bad.add(`${ratio(color, ground(of)).toFixed(2)} to 1: ${one} ${property}`);
      }
    }
  }
  return [...bad];
}

// What the keyboard can reach, in the order of the page, each with a name.
function reachable() {
  return [...document.querySelectorAll('a[href], summary, [tabindex="0"]')].filter(seen);
}
function named() {
  return reachable().filter((of) => !(of.getAttribute('aria-label') || of.textContent.trim())).map(name);
}
function position() {
  return reachable().indexOf(document.activeElement);
}

// Headings go down by one step at most; links lead somewhere; ids are there once; tables have headings.
function structure() {
  const bad = [];
  if (!document.documentElement.lang || !document.title.trim()) bad.push('no language or title');
  if (document.querySelectorAll('h1').length !== 1 || !document.querySelector('main')) bad.push('not one h1 and a main');
  let before = 0;
  for (const heading of document.querySelectorAll('h1, h2, h3, h4')) {
    const level = Number(heading.tagName[1]);
    if (level > before + 1) bad.push(`a step is missing above ${name(heading)}`);
    before = level;
  }
  const ids = [...document.querySelectorAll('[id]')].map((of) => of.id);
  ids.filter((id, at) => ids.indexOf(id) !== at).forEach((id) => bad.push(`id twice: ${id}`));
  for (const link of document.querySelectorAll('a[href^="#"], use')) {
    const to = (link.getAttribute('href') || '').slice(1);
    if (!document.getElementById(to)) bad.push(`leads nowhere: #${to}`);
  }
  for (const table of document.querySelectorAll('table')) {
    if (!table.querySelector('thead th[scope=col]')) bad.push(`no headings: ${name(table)}`);
  }
  return bad;
}

// Nothing that runs or loads, and nothing that a name brought in.
function inert() {
  const bad = [];
  document.querySelectorAll('script, img, iframe, object, embed, form, base, link:not([rel=icon])').forEach((of) => bad.push(of.outerHTML.slice(0, 120)));
  document.querySelectorAll('*').forEach((of) => [...of.attributes].forEach((attribute) => {
    const outward = ['href', 'src', 'xlink:href', 'action'].includes(attribute.name) && !/^(#|data:,$)/.test(attribute.value);
    if (/^on/i.test(attribute.name) || outward) bad.push(`${of.tagName} ${attribute.name}=${attribute.value.slice(0, 60)}`);
  }));
  if (window.hit !== undefined) bad.push('a name was executed');
  return bad;
}

// Nothing sticks out to the right, but inside what can be scrolled; on paper, nothing at all.
function wide(paper) {
  const bad = [];
  const edge = document.documentElement.clientWidth + 1;
  if (document.documentElement.scrollWidth > edge) bad.push(`the page is ${document.documentElement.scrollWidth} wide, of ${edge}`);
  for (const of of document.querySelectorAll('body *')) {
    if (!seen(of) || of.closest('.skip, .defs') || (!paper && of.closest('.scroll'))) continue;
    const box = of.getBoundingClientRect();
    if (box.width > 0 && box.right > edge + 1) bad.push(`${Math.round(box.right)} of ${edge}: ${name(of)}`);
  }
  return bad.slice(0, 8);
}

// What must stay in one piece on paper: as lists of cells that are found again on one page. A row as high as a page is cut.
function pieces() {
  const all = [...document.querySelectorAll('table tbody tr, .card-steps > li, .todos > li, .finding-card, .list > li, .caution')].filter(seen);
  return all.map((of) => {
    const cells = of.matches('tr') ? [...of.cells] : [of];
    return JSON.stringify({
      cells: cells.map((cell) => cell.innerText.replace(/\s+/g, '')).filter((text) => text),
      kept: getComputedStyle(of).breakInside === 'avoid' && !of.querySelector('details[open]'),
      high: of.getBoundingClientRect().height,
    });
  });
}
