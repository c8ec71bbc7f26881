// The wiring, compiled once from a scenario: which part's pin hangs on which net, and where each part's numbers stand
// in the vectors of a Context. Parts, nets and everything derived from them are in name order, so that the order in
// which a netlist is written changes no result.
#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "models/table.hpp"
#include "sim/netlist/scenario.hpp"

namespace overwinter {

struct Context;

/// One part in its place.
struct DiagramPart {
  std::string name;
  std::shared_ptr<const Model> model;
  const ModelTable* table = nullptr;
  std::shared_ptr<const void> parameters;  ///< what the model was built from; may be null where no fault changes them
  std::vector<int> nets;                   ///< per pin: index of the net, -1 for ground
  std::size_t unknown = 0;                 ///< first internal unknown in the network vector
  std::size_t local = 0;                   ///< first of the part's z in the gathered vector
  std::size_t state = 0, memory = 0, drive = 0, flow = 0, event = 0, line = 0, alarm = 0, held = 0;

  std::size_t pins() const { return table->pins.size(); }
  std::size_t width() const { return table->pins.size() + table->unknowns.size(); }
};

/// A line input and the part output that feeds it.
struct LineLink {
  std::size_t input = 0;  ///< first index in the line vector
  std::size_t part = 0;   ///< driving part
  std::size_t port = 0;   ///< its line output
  LineKind kind = LineKind::temperature;
};

/// Harvest that is offered by one part and taken, or not, by another.
struct HarvestLink {
  std::size_t source_part = 0;
  std::size_t offered_flow = 0, taken_flow = 0;  ///< in the flow vector
  std::size_t refused = 0;                       ///< first of the refused slots of the part that decides
  const Output* cause = nullptr;                 ///< of the deciding part: its label says why harvest is refused
  int deciding_part = -1;                        ///< -1: nothing decides, the panel feeds its net directly
};

/// A named slot of refused harvest.
struct RefusedSlot {
  std::string part, cause;
};

/// A fault, and what of the wiring has it.
struct DiagramFault {
  TimedFault what;
  int part = -1;                    ///< -1: the site
  std::vector<std::size_t> joints;  ///< parts that open or short it
};

class Diagram {
 public:
  explicit Diagram(const Scenario&);

  const std::vector<DiagramPart>& parts() const { return parts_; }
  const std::vector<std::string>& nets() const { return nets_; }  ///< without ground
  const std::vector<LineLink>& lines() const { return lines_; }
  const std::vector<HarvestLink>& harvest() const { return harvest_; }
  const std::vector<RefusedSlot>& refused() const { return refused_; }
  const std::vector<DiagramFault>& faults() const { return faults_; }

  std::size_t unknowns() const { return unknowns_; }  ///< length of the network vector: nets, then internal unknowns
  std::size_t local_size() const { return place_.size(); }
  /// Where each entry of the gathered vector (all parts' pins and unknowns) stands in the network vector; ground is
  /// unknowns(), one past its end.
  const std::vector<std::uint32_t>& places() const { return place_; }
  std::size_t states() const { return states_; }
  std::size_t flows() const { return flows_; }  ///< part flows, without the refused slots
  std::size_t integrals() const { return flows_ + refused_.size(); }
  std::size_t memories() const { return memories_; }
  std::size_t holds() const { return holds_; }
  std::size_t drives() const { return drives_; }
  std::size_t events() const { return events_; }
  std::size_t alarms() const { return alarms_; }
  std::size_t line_numbers() const { return line_numbers_; }  ///< numbers on all line inputs

  /// Name of an entry of the network vector, such as "sun" or "panel-south junction".
  std::string unknown_name(std::size_t index) const;

 private:
  void join_parallel_parts();
  void link_harvest();

  std::vector<DiagramPart> parts_;
  std::vector<std::string> nets_;
  std::vector<LineLink> lines_;
  std::vector<HarvestLink> harvest_;
  std::vector<RefusedSlot> refused_;
  std::vector<DiagramFault> faults_;
  std::vector<std::uint32_t> place_;
  std::size_t unknowns_ = 0, states_ = 0, flows_ = 0, memories_ = 0, drives_ = 0, events_ = 0, alarms_ = 0,
              line_numbers_ = 0, holds_ = 0;
};

}  // namespace overwinter
