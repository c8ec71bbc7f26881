#include "sim/zoom/zoom_files.hpp"

#include "sim/zoom/vcd.hpp"
#include "sim/zoom/waveforms_csv.hpp"
#include "sim/zoom/zoom_page.hpp"

namespace overwinter {

std::vector<std::string> write_zoom(const Waveforms& w, const ZoomForms& forms, const RunFolder& folder) {
  std::vector<std::string> written;
  const auto write = [&](const char* name, const std::string& text) {
    folder.write(name, text);
    written.push_back(name);
  };
  if (forms.html) write("waveforms.html", zoom_html(w));
  if (forms.csv) write("waveforms.csv", waveforms_csv(w));
  if (forms.vcd) write("waveforms.vcd", vcd_text(w, "waveforms.vcd"));
  if (forms.csv || forms.html) write("events.csv", marks_csv(w));
  return written;
}

}  // namespace overwinter
