/// Shell texts of an invented phone, written from the platform's format strings; every value is invented.
#pragma once

#include <string_view>

namespace hb::phone::texts {

inline constexpr std::string_view battery = R"(5123.45 20110.02
Current Battery Service state:
  AC powered: false
  USB powered: true
  Wireless powered: false
  Dock powered: false
  Max charging current: 500000
  Max charging voltage: 5000000
  Charge counter: 2391000
  status: 2
  health: 2
  present: true
  level: 64
  scale: 100
  voltage: 3987
  temperature: 284
  technology: Li-ion
  Charging state: 0
  Charging policy: 0
)";
inline constexpr std::string_view battery_frozen = R"(5123.45 20110.02
Current Battery Service state:
  (UPDATES STOPPED -- use 'reset' to restart)
  AC powered: false
  status: 3
  level: 50
  voltage: 4000
)";
inline constexpr std::string_view cell = R"(5123.45 20110.02
present=1
voltage_now=3987250
current_now=-281500
temp=284
charge_counter=1497600
charge_full=2301000
charge_full_design=2340000
cycle_count=12
capacity=64
status=Not charging
)";
inline constexpr std::string_view cell_denied = R"(5123.45 20110.02
present=
voltage_now=
current_now=
temp=
charge_counter=
charge_full=
charge_full_design=
cycle_count=
capacity=
status=
)";
inline constexpr std::string_view supply = R"(5123.45 20110.02
online=1
voltage_now=4738000
current_now=2981000
current_max=3000000
)";
inline constexpr std::string_view wifi = R"(1
Wifi is enabled
RSSI: -52
)";
inline constexpr std::string_view bluetooth = R"(1
  state: ON
)";
inline constexpr std::string_view nfc = "mState=on\n";
inline constexpr std::string_view sim = "LOADED,NOT_READY\n";
inline constexpr std::string_view mobile = R"( rsrp=-101
 ssRsrp = 2147483647
 rsrp=2147483647
 ssRsrp = 2147483647
)";
inline constexpr std::string_view fingerprint = R"(Sensors:
modality 2
modality 8
)";
inline constexpr std::string_view sensors =
    "Captured at: 14:03:22.120\n"
    "Sensor Device:\n"
    "Total 3 h/w sensors, 3 running 0 disabled clients:\n"
    "0x0000001b) active-count = 1; sampling_period(ms) = {20.0}, selected = 20.00 ms\n"
    "Sensor List:\n"
    "0x00000001) Velmora Accel             | Velmora         | ver: 1 | type: "
    "android.sensor.accelerometer(1) | perm: n/a | flags: 0x00000000\n"
    "\tcontinuous | minRate=1.00Hz | maxRate=400.00Hz | FIFO (max,reserved) = (3000, 300) events | "
    "non-wakeUp "
    "| \n"
    "0x0000001b) Hinge (left|right) Angle  | Velmora         | ver: 1 | type:  "
    "android.sensor.hinge_angle(36) | perm: n/a | flags: 0x00000002\n"
    "\ton-change | minRate=1.00Hz | minDelay=0us | no batching | non-wakeUp | \n"
    "0x0000001c) Steps                     | Velmora         | ver: 1 | type: "
    "android.sensor.step_counter(19) | perm: android.permission.ACTIVITY_RECOGNITION | flags: 0x00000002\n"
    "\ton-change | minRate=1.00Hz | minDelay=0us | no batching | non-wakeUp | \n"
    "Fusion States:\n"
    "9-axis fusion disabled (0 clients)\n"
    "Recent Sensor events:\n"
    "Velmora Accel: last 2 events\n"
    "\t 1 (ts=5123.456789012, wall=14:03:22.117) 0.05, -0.11, 9.79, \n"
    "\t 2 (ts=5123.436700000, wall=14:03:22.097) 0.04, -0.12, 9.80, \n"
    "Hinge (left|right) Angle: last 3 events\n"
    "\t 1 (ts=5123.460000000, wall=14:03:22.120) 91.25, \n"
    "\t 2 (ts=5123.440000000, wall=14:03:22.100) 90.50, \n"
    "\t 3 (ts=5123.420000000, wall=14:03:22.080) 89.75, \n"
    "Steps: last 1 events\n"
    "\t 1 (ts=5120.000000000, wall=14:03:18.660) [value masked]\n"
    "Active sensors:\n"
    "Hinge (left|right) Angle (handle=0x0000001b, connections=1)\n"
    "Socket Buffer size = 39 events\n";
inline constexpr std::string_view input_devices = R"(add device 1: /dev/input/event4
  name:     "velmora_touch_outer"
  events:
    KEY (0001): BTN_TOUCH            
    ABS (0003): ABS_MT_SLOT           : value 0, min 0, max 9, fuzz 0, flat 0, resolution 0
                ABS_MT_TOUCH_MAJOR    : value 0, min 0, max 255, fuzz 0, flat 0, resolution 0
                ABS_MT_POSITION_X     : value 0, min 0, max 719, fuzz 0, flat 0, resolution 0
                ABS_MT_POSITION_Y     : value 0, min 0, max 747, fuzz 0, flat 0, resolution 0
                ABS_MT_TRACKING_ID    : value 0, min 0, max 65535, fuzz 0, flat 0, resolution 0
  input props:
    INPUT_PROP_DIRECT
add device 2: /dev/input/event3
  name:     "velmora_touch_inner"
  events:
    KEY (0001): BTN_TOUCH            
    ABS (0003): ABS_MT_SLOT           : value 0, min 0, max 9, fuzz 0, flat 0, resolution 0
                ABS_MT_POSITION_X     : value 0, min 0, max 1079, fuzz 0, flat 0, resolution 0
                ABS_MT_POSITION_Y     : value 0, min 0, max 2639, fuzz 0, flat 0, resolution 0
                ABS_MT_TRACKING_ID    : value 0, min 0, max 65535, fuzz 0, flat 0, resolution 0
  input props:
    INPUT_PROP_DIRECT
add device 3: /dev/input/event0
  name:     "velmora-keys"
  events:
    KEY (0001): KEY_VOLUMEDOWN        KEY_VOLUMEUP          KEY_POWER             
    SW  (0005): SW_TABLET_MODE        SW_LID*              
  input props:
    <none>
)";
inline constexpr std::string_view touch_labels =
    "[    5123.456789] /dev/input/event3: EV_ABS       ABS_MT_SLOT          00000000            \r\n"
    "[    5123.456789] /dev/input/event3: EV_ABS       ABS_MT_TRACKING_ID   0000002d            \r\n"
    "[    5123.456789] /dev/input/event3: EV_ABS       ABS_MT_POSITION_X    000003a2            \r\n"
    "[    5123.456789] EV_ABS       ABS_MT_POSITION_Y    000005f0            \r\n"
    "[    5123.456789] EV_KEY       BTN_TOUCH            DOWN                \r\n"
    "[    5123.456789] EV_SYN       SYN_REPORT           00000000            \r\n"
    "[    5123.956789] EV_ABS       ABS_MT_TRACKING_ID   ffffffff            \r\n"
    "[    5123.956789] EV_KEY       BTN_TOUCH            UP                  \r\n"
    "[    5123.956789] EV_SYN       SYN_DROPPED          00000000            \r\n";
inline constexpr std::string_view touch_hex =
    "[    5123.456789] /dev/input/event3: 0003 002f 00000000\n"
    "[    5123.456789] /dev/input/event3: 0003 0039 0000002d\n"
    "[    5123.456789] /dev/input/event3: 0003 0035 000003a2\n"
    "[    5123.456789] 0003 0036 000005f0\n"
    "[    5123.456789] 0001 014a 00000001\n"
    "[    5123.456789] 0000 0000 00000000\n"
    "[    5123.956789] 0003 0039 ffffffff\n"
    "[    5123.956789] 0001 014a 00000000\n"
    "[    5123.956789] 0000 0003 00000000\n";
inline constexpr std::string_view device_state = R"(DEVICE STATE MANAGER (dumpsys device_state)
  mCommittedState=Optional[DeviceState{identifier=2, name='OPENED', app_accessible=true, cancel_when_requester_not_on_top=false}]
  mPendingState=Optional.empty
  mBaseState=Optional[DeviceState{identifier=2, name='OPENED', app_accessible=true, cancel_when_requester_not_on_top=false}]
  mOverrideState=Optional.empty

Registered processes: size=2
  0: mPid=1200
  1: mPid=2345
)";
inline constexpr std::string_view device_state_forced = R"(DEVICE STATE MANAGER (dumpsys device_state)
  mCommittedState=Optional[DeviceState{identifier=0, name='CLOSED', app_accessible=true}]
  mPendingState=Optional.empty
  mBaseState=Optional[DeviceState{identifier=2, name='OPENED', app_accessible=true}]
  mOverrideState=Optional[DeviceState{identifier=0, name='CLOSED', app_accessible=true}]
)";
inline constexpr std::string_view thermal =
    "IsStatusOverride: false\n"
    "ThermalEventListeners:\n"
    "\tcallbacks: 2\n"
    "\tkilled: false\n"
    "\tbroadcasts count: -1\n"
    "Thermal Status: 1\n"
    "Cached temperatures:\n"
    "\tTemperature{mValue=55.5, mType=3, mName=skin, mStatus=0}\n"
    "HAL Ready: true\n"
    "HAL connection:\n"
    "\tThermalHAL 2.0 connected: yes\n"
    "Current temperatures from HAL:\n"
    "\tTemperature{mValue=NaN, mType=3, mName=skin0, mStatus=0}\n"
    "\tTemperature{mValue=-99.9, mType=3, mName=skin1, mStatus=0}\n"
    "\tTemperature{mValue=30.9, mType=3, mName=VIRTUAL-SKIN, mStatus=0}\n"
    "\tTemperature{mValue=29.8, mType=2, mName=battery, mStatus=0}\n"
    "\tTemperature{mValue=81.0, mType=0, mName=cpu0, mStatus=0}\n"
    "\tTemperature{mValue=99.0, mType=8, mName=battery-soc, mStatus=0}\n"
    "Current cooling devices from HAL:\n"
    "\tCoolingDevice{mValue=0, mType=2, mName=cpu0}\n";
inline constexpr std::string_view cameras = R"(== Service global info: ==

Number of camera devices: 3
Number of normal camera devices: 3
Number of public camera devices visible to API1: 2
    Device 0 maps to "0"
Active Camera Clients:
[]
Allowed user IDs: 0
== Camera Provider HAL internal/0 (v2.7, remote) static info: 3 devices: ==
== Camera HAL device device@3.7/internal/0 (v3.7) static information: ==
  Resource cost: 50
  Conflicting devices: None
  API1 info:
    Has a flash unit: true
    Facing: Back
    Orientation: 90
  API2 camera characteristics:
== Camera HAL device device@3.7/internal/1 (v3.7) static information: ==
    Facing: Front
    Orientation: 270
== Camera HAL device device@3.7/internal/2 (v3.7) static information: ==
    Facing: Back
== Camera error traces (0): ==
    Facing: Back
)";
inline constexpr std::string_view wm_size = "Physical size: 1080x2640\n";
inline constexpr std::string_view wm_size_override = "Physical size: 1080x2640\nOverride size: 900x1100\n";
}  // namespace hb::phone::texts
