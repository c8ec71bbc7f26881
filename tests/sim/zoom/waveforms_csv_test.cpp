#include "sim/zoom/waveforms_csv.hpp"

#include <doctest/doctest.h>

#include <stdexcept>

#include "tests/sim/zoom/support/invented_start.hpp"

using namespace overwinter;

TEST_CASE("waveforms as CSV") {
  CHECK(waveforms_csv(test::invented_start()) ==
        "time [UTC],from moment [us],net.cell+ [V],net.rail [V],boost.regime,boost.input_current [mA],boost.efficiency "
        "[%],line.radio-on\n"
        "2024-10-15T01:59:59.999000000Z,-1000.000,3.7,0,off,0,0,0\n"
        "2024-10-15T01:59:59.999999999Z,-0.001,3.7,0,off,0.021,0,0\n"
        "2024-10-15T02:00:00.000000000Z,0.000,3.65,0,starting,250,50,0\n"
        "2024-10-15T02:00:00.000012500Z,12.500,3.66,2.51234567,starting,400,87.5,0\n"
        "2024-10-15T02:00:00.002000000Z,2000.000,3.69,4.99,on,12.34,90,1\n");
}

TEST_CASE("marks as CSV") {
  CHECK(marks_csv(test::invented_start()) ==
        "time [UTC],from moment [us],part,event,meaning\n"
        "2024-10-15T02:00:00.000000000Z,0.000,boost,starts,its input rose above the release\n"
        "2024-10-15T02:00:00.000000000Z,0.000,switch,on,\"the gate, \"\"driven\"\"\"\n"
        "2024-10-15T02:00:00.000012500Z,12.500,,collapse,net rail went from 5.000 V to 2.500 V\n"
        "2024-10-15T02:00:00.002000000Z,2000.000,boost,starts,its input rose above the release\n");
}

TEST_CASE("unsound waveforms give no CSV") {
  Waveforms w = test::invented_start();
  w.times.pop_back();
  CHECK_THROWS_AS(waveforms_csv(w), std::invalid_argument);
}
