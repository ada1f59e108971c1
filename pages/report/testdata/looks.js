// What a page looks like, for browser_test.go: an object of complaints and counts.
(() => {
  const complaints = [];
  const say = (text) => { if (complaints.length < 12) complaints.push(text); };
  const probe = document.createElement("canvas").getContext("2d", { willReadFrequently: true });
  const known = new Map();
  const rgb = (colour) => known.get(colour) ?? known.set(colour, painted(colour)).get(colour);
  const painted = (colour) => {
    probe.clearRect(0, 0, 1, 1);
    probe.fillStyle = colour;
    probe.fillRect(0, 0, 1, 1);
    return [...probe.getImageData(0, 0, 1, 1).data];
  };
  const luminance = ([r, g, b]) => {
    const part = (v) => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; };
    return 0.2126 * part(r) + 0.7152 * part(g) + 0.0722 * part(b);
  };
  const contrast = (a, b) => {
    const [x, y] = [luminance(a), luminance(b)].sort((p, q) => q - p);
    return (x + 0.05) / (y + 0.05);
  };
  const behind = (element) => {
    for (let e = element; e; e = e.parentElement) {
      const colour = rgb(getComputedStyle(e).backgroundColor);
      if (colour[3] === 255) return colour;
    }
    return rgb("white");
  };
  let texts = 0;
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const element = walk.currentNode.parentElement;
    const inPicture = element.closest("svg");
    if (!walk.currentNode.data.trim() || inPicture && element.tagName !== "text" || !element.checkVisibility()) continue;
    texts++;
    const style = getComputedStyle(element);
    let size = parseFloat(style.fontSize), backs = [behind(element)];
    if (inPicture) {
      size *= inPicture.getBoundingClientRect().width / inPicture.viewBox.baseVal.width;
      if (element.classList.contains("on")) backs = ["--c-1", "--c-2"].map((name) => rgb(getComputedStyle(inPicture).getPropertyValue(name)));
      if (size < 8.9) say(`"${walk.currentNode.data}" in a picture is ${size.toFixed(1)} px high`);
    } else if (size < 12) say(`"${walk.currentNode.data.slice(0, 40)}" is ${size} px high`);
    const large = size >= 24 || size >= 18.66 && style.fontWeight >= 700;
    for (const back of backs) {
      const ratio = contrast(rgb(inPicture ? style.fill : style.color), back);
      if (ratio < (large ? 3 : 4.5)) say(`"${walk.currentNode.data.slice(0, 40)}" has the contrast ${ratio.toFixed(2)}`);
    }
  }
  const root = document.documentElement;
  if (root.scrollWidth > root.clientWidth) say(`the page is ${root.scrollWidth} px wide in a window of ${root.clientWidth}`);
  for (const e of document.querySelectorAll("a, summary, input")) {
    if (!e.checkVisibility()) continue;
    const box = (e.closest("label") ?? e).getBoundingClientRect();
    if (box.height < 24 && !e.classList.contains("skip")) say(`${e.outerHTML.slice(0, 60)} is ${box.height.toFixed(0)} px high, too low to be hit`);
  }
  return { Complaints: complaints, Texts: texts, Paper: rgb(getComputedStyle(document.body).backgroundColor).join(" ") };
})()
