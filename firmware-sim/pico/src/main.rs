#![no_std]
#![no_main]
use panic_halt as _;
use rp2040_hal as _;
use usb_device as _;
use usbd_serial as _;
