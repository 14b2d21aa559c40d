// A plot: its frame, its axes and its words, as SVG.

class Plot {
  constructor({ title, told, width, height, left, right, top, bottom }) {
    this.box = { width: width || 720, height: height || 320, left: left || 52, right: right || 12, top: top || 12, bottom: bottom || 34 };
    const { box } = this;
    this.svg = svg("svg", { viewBox: "0 0 " + box.width + " " + box.height, role: "img", "aria-label": title + ". " + told });
    this.figure = el("figure", {}, el("figcaption", {}, el("strong", {}, title), " ", told),
      el("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": title }, this.svg));
  }

  // Scales from values to places; `deep` turns the axis, so that the surface is above.
  scaleX(from, to) {
    const { left, right, width } = this.box;
    return (value) => left + ((value - from) / (to - from)) * (width - left - right);
  }

  scaleY(from, to) {
    const { top, bottom, height } = this.box;
    return (value) => top + ((value - from) / (to - from)) * (height - top - bottom);
  }

  add(...children) {
    this.svg.append(...children);
    return this;
  }

  words(text, x, y, attributes) {
    return this.add(svg("text", { x, y, ...attributes }, text));
  }

  line(x1, y1, x2, y2, kind) {
    return this.add(svg("line", { x1, y1, x2, y2, class: kind }));
  }

  months(x) {
    const { top, bottom, height } = this.box;
    MONTHS.forEach((month, number) => {
      const at = x(MONTH_STARTS[number]);
      this.line(at, top, at, height - bottom, "grid");
      this.words(month, x(MONTH_STARTS[number] + 15), height - bottom + 18, { "text-anchor": "middle" });
    });
    return this;
  }

  depths(y, most) {
    const step = [5, 10, 20, 50, 100].find((step) => most / step <= 7) || 200;
    for (let depth = 0; depth <= most; depth += step) {
      this.line(this.box.left, y(depth), this.box.width - this.box.right, y(depth), "grid");
      this.words(depth + " " + depthUnit, this.box.left - 6, y(depth) + 4, { "text-anchor": "end" });
    }
    return this;
  }
}

const legend = (...items) => el("ul", { class: "legend" }, items.map(([mark, text]) => el("li", {}, mark, " ", text)));
const swatch = (name) => svg("svg", { viewBox: "0 0 24 24", width: 22, height: 22, "aria-hidden": "true", focusable: "false" },
  svg("rect", { x: 2, y: 5, width: 20, height: 14, class: name }));
